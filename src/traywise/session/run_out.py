"""The day on which a supply runs out at the foreseen use, as a range.

A piece is lacking through a day when the use up to it exceeds what the lots could give, each
only up to its own last day. The chance of that never falls from day to day, so the first day
on which it reaches a level is found by halving.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from datetime import date
from functools import cache

import msgspec

from traywise.session.distribution import Distribution

LOW, MID, HIGH = 0.05, 0.5, 0.95


class RunOut(msgspec.Struct, frozen=True, kw_only=True):
    """The first day on which a piece is lacking; None: not within the horizon.

    low   so early in 5 of 100 horizons; mid: in half of them; high: in 95 of 100
    """

    low: date | None = None
    mid: date | None = None
    high: date | None = None


def run_out(days: Sequence[date], missing_through: Callable[[date], Distribution]) -> RunOut:
    """When something is first lacking.

    days             on which something is used, in any order
    missing_through  what is lacking when all use through that day has taken place
    """
    ordered = sorted(set(days))

    @cache
    def chance(day: date) -> float:
        missing = missing_through(day)
        return 1 - missing.at_most(0)

    def first(level: float) -> date | None:
        # The cut tails of a distribution must not move a day.
        place = bisect_left(ordered, level - 1e-9, key=chance)
        return ordered[place] if place < len(ordered) else None

    return RunOut(low=first(LOW), mid=first(MID), high=first(HIGH))
