"""Conditions under which an opened vial may be kept: ``tables/vial-policy.toml``."""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.rulebook.tables import load_table


class KeepCondition(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One condition; all must hold. ``hours``: on the row that says what holds otherwise."""

    key: str
    text: str
    hours: int | None = None
    note: str = ""
    source: str


def keep_conditions() -> tuple[KeepCondition, ...]:
    """All conditions, in the order of the table."""
    return tuple(row for row in _rows() if row.hours is None)


def otherwise() -> KeepCondition:
    """The row that says how long a vial keeps when not all conditions hold."""
    return next(row for row in _rows() if row.hours is not None)


@cache
def _rows() -> tuple[KeepCondition, ...]:
    return load_table("vial-policy", KeepCondition)
