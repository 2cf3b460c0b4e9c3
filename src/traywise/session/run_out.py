"""The day on which a supply runs out at the foreseen use, as a range.

A piece is lacking through a day when the use up to it exceeds what the lots could give, each
only up to its own last day. The chance of that never falls from day to day. Use is added up
day by day; a run of days alike is passed in steps of doubled length, each tried and kept only
while the chance stays below the level that is looked for, so the day found is exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import groupby
from typing import NamedTuple

import msgspec

from traywise.session.distribution import NOTHING, Distribution, add, beyond

LOW, MID, HIGH = 0.05, 0.5, 0.95
_ROUNDING = 1e-9  # the cut tails of a distribution must not move a day


class RunOut(msgspec.Struct, frozen=True, kw_only=True):
    """The first day on which a piece is lacking; None: not within the horizon.

    low   so early in 5 of 100 horizons; mid: in half of them; high: in 95 of 100
    """

    low: date | None = None
    mid: date | None = None
    high: date | None = None


class Reserve(NamedTuple):
    """What one lot can give, and its last day; None: it has none."""

    last: date | None
    pieces: int


def run_out(days: Sequence[tuple[date, Distribution]], lots: Sequence[Reserve]) -> RunOut:
    """When something is first lacking.

    days  use of each day, in the order of the days
    lots  in the order of use, what expires soonest first
    """
    walk = _Walk()
    for number, lot in enumerate((*lots, Reserve(None, 0))):
        # What this lot lacks the next ones give, for they lie there at the same time.
        at_hand = sum(later.pieces for later in lots[number:])
        end = len(days) if lot.last is None else sum(day <= lot.last for day, _ in days)
        walk.through(days[walk.done : end], at_hand)
        walk.use_up(lot.pieces)
    return RunOut(low=walk.day_of(LOW), mid=walk.day_of(MID), high=walk.day_of(HIGH))


class _Walk:
    """Use added up from day to day, and the days on which the chance reached each level."""

    def __init__(self) -> None:
        self.missing = NOTHING
        self.done = 0
        self.found: dict[float, date] = {}
        self._doubled: dict[int, list[Distribution]] = {}

    def day_of(self, level: float) -> date | None:
        return self.found.get(level)

    def use_up(self, pieces: int) -> None:
        """A lot ends: what it could not give is asked of the next."""
        self.missing = beyond(self.missing, pieces)

    def through(self, days: Sequence[tuple[date, Distribution]], at_hand: int) -> None:
        """All these days, with so many pieces at hand from their beginning."""
        for _, alike in groupby(days, key=lambda part: id(part[1])):
            run = list(alike)
            self._pass(run, at_hand)
            self.done += len(run)

    def _pass(self, run: Sequence[tuple[date, Distribution]], at_hand: int) -> None:
        passed = 0
        for level in (LOW, MID, HIGH):
            if level in self.found:
                continue
            passed += self._advance(run[passed:], at_hand, level)
            if passed == len(run):
                return
            self.found[level] = run[passed][0]
        # Every level is reached: nothing more is asked.

    def _advance(self, run: Sequence[tuple[date, Distribution]], at_hand: int, level: float) -> int:
        """How many of the days can pass with the chance still below the level."""
        passed = power = 0
        while self._try(run[passed:], power, at_hand, level):
            passed += 1 << power
            power += 1
        for smaller in reversed(range(power)):
            if self._try(run[passed:], smaller, at_hand, level):
                passed += 1 << smaller
        return passed

    def _try(
        self, run: Sequence[tuple[date, Distribution]], power: int, at_hand: int, level: float
    ) -> bool:
        """Adds the use of 2^power days if there are so many and the chance stays below."""
        if len(run) < 1 << power:
            return False
        doubled = self._doubled.setdefault(id(run[0][1]), [run[0][1]])
        while len(doubled) <= power:
            doubled.append(add(doubled[-1], doubled[-1]))
        missing = add(self.missing, doubled[power])
        if 1 - missing.at_most(at_hand) >= level - _ROUNDING:
            return False
        self.missing = missing
        return True
