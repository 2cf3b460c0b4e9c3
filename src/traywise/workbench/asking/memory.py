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
        self._lock = threading.Lock()

    def get(self, key: str, make: Callable[[], ValueT]) -> ValueT:
        """The kept value, or the one made now. Two threads may make the same one."""
        with self._lock:
            if key in self._values:
                self._values.move_to_end(key)
                return self._values[key]
        value = make()
        with self._lock:
            self._values[key] = value
            while len(self._values) > self.size:
                self._values.popitem(last=False)
        return value
