"""Needles and syringes from what is at hand, over all places of one tray at once.

A needle given to one place is gone for the next, so the places are served together: as
many as can be get an allowed needle and syringe, then the preferred ones go where they
can. A piece ``needle+syringe`` counts as both. What no stock serves is named; another
needle than the table allows is never taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import msgspec

from traywise.equipment.assign import assign
from traywise.equipment.place import Needle, SupplyOnHand

_MISSING = 10_000  # dearer than any sum of preferences: serving more places comes first
_NEVER = 100 * _MISSING  # dearer than lacking everything: what is not allowed is not taken
_TAKEN_APART = 100  # a one-piece set used for its needle alone: only when nothing else is left


class Want(msgspec.Struct, frozen=True, kw_only=True):
    """What one place may use, best first. No sizes: the product brings its own syringe."""

    needles: tuple[Needle, ...]
    sizes_ml: tuple[float, ...] = ()
    one_piece: bool = False  # only a piece of needle and syringe will do


class Given(msgspec.Struct, frozen=True, kw_only=True):
    """What one place gets; None where nothing allowed is at hand."""

    needle: Needle | None = None
    size_ml: float | None = None
    set_used: bool = False


class _Stock:
    """Counts at hand: loose needles, loose syringes and one-piece sets, each by kind."""

    def __init__(self, supplies: Sequence[SupplyOnHand]):
        self.needles: dict[Needle, int] = {}
        self.syringes: dict[float, int] = {}
        self.sets: dict[tuple[Needle, float], int] = {}
        for line in supplies:
            needle = None
            if line.gauge is not None and line.length_mm is not None:
                needle = Needle(gauge=line.gauge, length_mm=line.length_mm)
            if line.item == "needle" and needle is not None:
                self.needles[needle] = self.needles.get(needle, 0) + line.count
            elif line.item == "syringe" and line.volume_ml is not None:
                size = line.volume_ml
                self.syringes[size] = self.syringes.get(size, 0) + line.count
            elif line.item == "needle+syringe" and needle and line.volume_ml is not None:
                kind = (needle, line.volume_ml)
                self.sets[kind] = self.sets.get(kind, 0) + line.count


def allot(wants: Sequence[Want], supplies: Sequence[SupplyOnHand] | None) -> list[Given]:
    """What each place gets. Without supplies (None) each gets its first choice."""
    if supplies is None:
        return [
            Given(
                needle=want.needles[0] if want.needles else None,
                size_ml=want.sizes_ml[0] if want.sizes_ml else None,
                set_used=want.one_piece,
            )
            for want in wants
        ]
    stock = _Stock(supplies)
    floor = sum(_alone(want, stock) for want in wants)
    best: tuple[int, list[Given]] | None = None
    for with_set in _subsets_that_may_use_sets(wants, stock):
        cost, given = _serve(wants, stock, with_set)
        if best is None or cost < best[0]:
            best = cost, given
        if best[0] == floor:
            break  # every place has what it would take if it were alone
    return best[1] if best is not None else []


def _alone(want: Want, stock: _Stock) -> int:
    """Cost of serving one place if the whole stock were its own."""
    subsets = _subsets_that_may_use_sets([want], stock)
    return min(_serve([want], stock, chosen)[0] for chosen in subsets)


def _subsets_that_may_use_sets(wants: Sequence[Want], stock: _Stock) -> list[frozenset[int]]:
    """Every choice of the places that take a one-piece set; just one where there is no choice."""
    must = frozenset(n for n, want in enumerate(wants) if want.one_piece)
    if not stock.sets:
        return [must]
    free = [n for n, want in enumerate(wants) if n not in must and want.needles]
    return [
        must | frozenset(chosen)
        for size in range(len(free) + 1)
        for chosen in combinations(free, size)
    ]


def _serve(
    wants: Sequence[Want], stock: _Stock, with_set: frozenset[int]
) -> tuple[int, list[Given]]:
    given = [Given() for _ in wants]
    total = 0
    sets = [(kind, count) for kind, count in sorted(stock.sets.items())]
    members = sorted(with_set)
    costs, got = _match(
        [[_set_rank(wants[n], kind) for kind, _ in sets] for n in members],
        [count for _, count in sets],
        [2 if wants[n].sizes_ml else 1 for n in members],
    )
    total += costs
    for n, index in zip(members, got, strict=True):
        if index is not None:
            (needle, size), _ = sets[index]
            given[n] = Given(
                needle=needle, size_ml=size if wants[n].sizes_ml else None, set_used=True
            )
    loose = [n for n, want in enumerate(wants) if n not in with_set and want.needles]
    needles = sorted(stock.needles)
    cost, got = _match(
        [[_rank(wants[n].needles, needle) for needle in needles] for n in loose],
        [stock.needles[needle] for needle in needles],
    )
    total += cost
    for n, index in zip(loose, got, strict=True):
        if index is not None:
            given[n] = Given(needle=needles[index])
    filled = [n for n, want in enumerate(wants) if n not in with_set and want.sizes_ml]
    sizes = sorted(stock.syringes)
    cost, got = _match(
        [[_rank(wants[n].sizes_ml, size) for size in sizes] for n in filled],
        [stock.syringes[size] for size in sizes],
    )
    total += cost
    for n, index in zip(filled, got, strict=True):
        if index is not None:
            given[n] = msgspec.structs.replace(given[n], size_ml=sizes[index])
    return total, given


def _rank(choices: Sequence[object], kind: object) -> int | None:
    return choices.index(kind) if kind in choices else None


def _set_rank(want: Want, kind: tuple[Needle, float]) -> int | None:
    needle, size = _rank(want.needles, kind[0]), _rank(want.sizes_ml, kind[1])
    if needle is None:
        return None
    if not want.sizes_ml:
        return needle + _TAKEN_APART
    return None if size is None else needle + size


def _match(
    ranks: list[list[int | None]], counts: list[int], lacking: Sequence[int] = ()
) -> tuple[int, list[int | None]]:
    """Serve as many as possible, then by preference: total cost and the kind each gets.

    ranks    for each place the preference of each kind, None where it is not allowed
    lacking  for each place how many things it lacks if it gets nothing; 1 unless given
    """
    if not ranks:
        return 0, []
    lacking = lacking or [1] * len(ranks)
    columns = [
        kind for kind, count in enumerate(counts) for _ in range(max(0, min(count, len(ranks))))
    ]
    costs = []
    for row, things in zip(ranks, lacking, strict=True):
        cells = []
        for kind in columns:
            rank = row[kind]
            cells.append(_NEVER if rank is None else rank)
        costs.append([*cells, *([things * _MISSING] * len(ranks))])
    got: list[int | None] = []
    total = 0
    for row_costs, column in zip(costs, assign(costs), strict=True):
        total += row_costs[column]
        got.append(columns[column] if column < len(columns) else None)
    return total, got
