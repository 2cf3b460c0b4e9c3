"""A child as the JSON of the contract: one object a line; what is not known is left out."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

import msgspec

from traywise.record.child import Child


def child_object(child: Child) -> dict[str, Any]:
    """The record as plain values, keys in the order of the contract.

    >>> child_object(Child(id="a", born=date(2026, 1, 5)))
    {'id': 'a', 'born': '2026-01-05'}
    """
    return {key: value for key, value in _plain(child).items() if value not in (None, [], {})}


def _plain(item: msgspec.Struct) -> dict[str, Any]:
    return {
        field.encode_name: _value(getattr(item, field.name))
        for field in msgspec.structs.fields(item)
    }


def _value(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return [_value(item) for item in value]
    if isinstance(value, msgspec.Struct):
        return {key: inner for key, inner in _plain(value).items() if inner is not None}
    return value


def write_children(children: Iterable[Child]) -> str:
    """JSON Lines: one child a line."""
    return "".join(msgspec.json.encode(child_object(child)).decode() + "\n" for child in children)
