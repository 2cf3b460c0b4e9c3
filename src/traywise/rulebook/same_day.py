"""Pairs of groups that are not given on one day: ``tables/same-day.toml``."""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.calendar import Span
from traywise.rulebook.tables import load_table


class SameDayPair(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """``first`` goes before ``second``, which waits for ``interval``."""

    key: str
    first: str
    second: str
    interval: Span
    why: str
    source: str


@cache
def same_day_pairs() -> tuple[SameDayPair, ...]:
    """All pairs that exclude each other on one day."""
    return load_table("same-day", SameDayPair)
