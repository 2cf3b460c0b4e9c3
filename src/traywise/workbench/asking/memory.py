"""Keeps computed answers of this process, the longest unused first out."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Generic, TypeVar

ValueT = TypeVar("ValueT")


class Memory(Generic[ValueT]):
    """At most ``size`` values by key; safe for the server's threads."""

    def __init__(self, size: int):
        self.size = size
        self._values: OrderedDict[str, ValueT] = OrderedDict()
        self._making: dict[str, threading.Lock] = {}
        self._lock = threading.Lock()

    def get(self, key: str, make: Callable[[], ValueT]) -> ValueT:
        """The kept value, or the one made now; who asks meanwhile waits for the same one.

        >>> memory = Memory[int](1)
        >>> memory.get("a", lambda: 1), memory.get("a", lambda: 2), memory.get("b", lambda: 3)
        (1, 1, 3)
        """
        with self._lock:
            if key in self._values:
                self._values.move_to_end(key)
                return self._values[key]
            making = self._making.setdefault(key, threading.Lock())
        with making:
            with self._lock:
                if key in self._values:
                    return self._values[key]
            try:
                value = make()
                self._keep(key, value)
            finally:
                with self._lock:
                    self._making.pop(key, None)
        return value

    def clear(self) -> None:
        """Forget all values."""
        with self._lock:
            self._values.clear()

    def _keep(self, key: str, value: ValueT) -> None:
        with self._lock:
            self._values[key] = value
            while len(self._values) > self.size:
                self._values.popitem(last=False)
