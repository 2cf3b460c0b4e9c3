"""How many needles, syringes, wipes, bandages and containers a clinic will use.

In: what each expected child needs (plain counts), the chance that a child does not come,
the mean of walk-ins, and how many sessions like this one lie ahead. Out: a distribution
for each kind of supply. Children come or stay away independently; a walk-in needs what
one of the expected children needs, each equally likely.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, timedelta
from functools import partial
from itertools import groupby
from math import ceil
from typing import NamedTuple

import msgspec

from traywise.equipment.supply_cells import item_rows
from traywise.rulebook.stock import stock_share
from traywise.rulebook.tables import load_table
from traywise.session.distribution import (
    NOTHING,
    Distribution,
    add,
    from_shares,
    repeat,
    showing_up,
    walk_ins,
)
from traywise.tray.plan import Needle, Supply

INJECTED = ("IM", "SC", "ID")
CONTAINER = "sharps-container"


class Kind(NamedTuple):
    """One kind of supply as it is ordered; figures are None where the item has none."""

    item: str
    gauge: int | None = None
    length_mm: int | None = None
    volume_ml: float | None = None


class Visit(msgspec.Struct, frozen=True, kw_only=True):
    """What one child's visit uses if it takes place.

    uses    pieces by kind; a shared container is not counted by child
    routes  needles by (kind, route), where known: shown, not ordered by
    sharps  injections, each one syringe with needle into the container
    """

    uses: Mapping[Kind, int]
    routes: Mapping[tuple[Kind, str], int] = {}
    sharps: int = 0


class Horizon(msgspec.Struct, frozen=True, kw_only=True):
    """The days ahead and who may come.

    sessions  clinic sessions, spread evenly over ``days`` from ``start``
    no_show   chance that an expected child does not come, 0 to below 1
    walk_ins  mean number of children who come unexpected, a session
    """

    start: date
    days: int
    sessions: int
    no_show: float
    walk_ins: float

    @property
    def end(self) -> date:
        """Last day."""
        return self.start + timedelta(days=self.days - 1)

    def session_days(self) -> list[date]:
        """The day of each session.

        >>> horizon = Horizon(start=date(2026, 1, 1), days=28, sessions=4, no_show=0, walk_ins=0)
        >>> [day.day for day in horizon.session_days()]
        [1, 8, 15, 22]
        """
        steps = (self.days * n // self.sessions for n in range(self.sessions))
        return [self.start + timedelta(days=step) for step in steps]


Days = Sequence[tuple[date, Distribution]]


class Demand(msgspec.Struct, frozen=True, kw_only=True):
    """Use over the horizon: day by day and in all, by kind; expected needles by route."""

    horizon: Horizon
    by_day: Mapping[Kind, Days]
    total: Mapping[Kind, Distribution]
    by_route: Mapping[tuple[Kind, str], float]
    sharps_by_day: Days

    @property
    def sharps(self) -> Distribution:
        """Sharps of the whole horizon."""
        return sum_days(self.sharps_by_day)

    @property
    def containers(self) -> Distribution:
        """Sharps containers filled over the whole horizon."""
        return _containers(self.sharps)


class UseRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One figure of ``tables/supply-use.toml``."""

    key: str
    value: int
    text: str
    source: str


def sharps_per_container() -> int:
    """Syringes with needle that one container holds."""
    rows = {row.key: row.value for row in load_table("supply-use", UseRow)}
    return rows["sharps-per-container"]


def pieces_per_container() -> float:
    """The same in pieces that reach a child, for spoilt ones go into the container too."""
    return sharps_per_container() / (1 + stock_share("syringe reserve").share)


def visit_of(uses: Iterable[tuple[Kind, int]], places: Iterable[tuple[Kind, str]] = ()) -> Visit:
    """A visit from plain counts and, where known, the needle and route of each place.

    Sharps are the injections, or the needles or syringes where these are more (mixing).

    >>> visit_of([(Kind("needle", 25, 25), 2), (Kind("syringe", volume_ml=1.0), 3)]).sharps
    3
    """
    counted: Counter[Kind] = Counter()
    for kind, count in uses:
        if kind.item != CONTAINER:
            counted[kind] += count
    routes = Counter(places)
    injections = sum(count for (_, route), count in routes.items() if route in INJECTED)
    return Visit(uses=counted, routes=routes, sharps=max(injections, _sharps_of(counted)))


def visit_of_places(
    supplies: Iterable[Supply], places: Iterable[tuple[str, Needle | None]]
) -> Visit:
    """A visit from a tray's supplies and the route and needle of each of its places.

    A diluent comes with its vaccine and is ordered with it, so it is left out.
    """
    uses = [
        (Kind(one.item, one.gauge, one.length_mm, one.volume_ml), one.count)
        for one in supplies
        if one.item in item_rows()
    ]
    by_figures = {
        (kind.gauge, kind.length_mm): kind
        for kind, _ in uses
        if kind.item in ("needle", "needle+syringe")
    }
    injected = [(route, needle) for route, needle in places if route in INJECTED]
    known = [
        (by_figures[needle.gauge, needle.length_mm], route)
        for route, needle in injected
        if needle is not None and (needle.gauge, needle.length_mm) in by_figures
    ]
    visit = visit_of(uses, known)
    return msgspec.structs.replace(visit, sharps=max(visit.sharps, len(injected)))


def _sharps_of(uses: Mapping[Kind, int]) -> int:
    def total(*items: str) -> int:
        return sum(count for kind, count in uses.items() if kind.item in items)

    return max(total("needle", "needle+syringe"), total("syringe", "needle+syringe"))


def demand(visits: Sequence[Visit], horizon: Horizon) -> Demand:
    """Exact distribution of use when every session expects these same visits.

    visits   of one typical session
    raises   ValueError when chance, mean or number of sessions cannot be
    """
    check_horizon(horizon)
    days = horizon.session_days()

    def spread(counts: Sequence[int]) -> Days:
        one = add(_expected(counts, horizon), _unexpected(counts, horizon))
        return tuple((day, one) for day in days)

    by_kind = {kind: spread([v.uses.get(kind, 0) for v in visits]) for kind in _kinds(visits)}
    sharps = spread([visit.sharps for visit in visits])
    comes = horizon.sessions * (1 - horizon.no_show)
    return _gather(visits, horizon, by_kind, sharps, comes)


def demand_by_date(dated: Sequence[tuple[date, Visit]], horizon: Horizon) -> Demand:
    """The same when each expected visit has a day of its own (a population planned ahead).

    dated    visits with their days; days outside the horizon are left out
    raises   ValueError when chance, mean or number of sessions cannot be
    """
    check_horizon(horizon)
    inside = sorted(
        ((day, visit) for day, visit in dated if horizon.start <= day <= horizon.end),
        key=lambda each: each[0],
    )
    visits = [visit for _, visit in inside]

    def spread(count_of: Callable[[Visit], int]) -> Days:
        unexpected = _unexpected([count_of(visit) for visit in visits], horizon)
        parts = [(day, unexpected) for day in horizon.session_days()]
        for day, group in groupby(inside, key=lambda each: each[0]):
            parts.append((day, _expected([count_of(visit) for _, visit in group], horizon)))
        return tuple(sorted(parts, key=lambda part: part[0]))

    by_kind = {}
    for kind in _kinds(visits):
        by_kind[kind] = spread(partial(_pieces, kind))
    return _gather(visits, horizon, by_kind, spread(_sharps), 1 - horizon.no_show)


def _pieces(kind: Kind, visit: Visit) -> int:
    return visit.uses.get(kind, 0)


def _sharps(visit: Visit) -> int:
    return visit.sharps


def _kinds(visits: Sequence[Visit]) -> list[Kind]:
    return sorted({kind for visit in visits for kind in visit.uses}, key=_order)


def _gather(
    visits: Sequence[Visit],
    horizon: Horizon,
    by_kind: Mapping[Kind, Days],
    sharps: Days,
    comes: float,
) -> Demand:
    """``comes``: how often each visit takes place on average, walk-ins left out."""
    in_all = {kind: sum_days(days) for kind, days in by_kind.items()}
    return Demand(
        horizon=horizon,
        by_day=by_kind,
        total=in_all,
        by_route=_by_route(visits, horizon, comes),
        sharps_by_day=sharps,
    )


def sum_days(days: Days) -> Distribution:
    """Use over several days; equal days in a row are doubled instead of added one by one."""
    total = NOTHING
    for _, alike in groupby(days, key=lambda part: id(part[1])):
        group = list(alike)
        total = add(total, repeat(group[0][1], len(group)))
    return total


def check_horizon(horizon: Horizon) -> None:
    """Raises ValueError for figures outside their range."""
    if not 0 <= horizon.no_show < 1:
        raise ValueError("The chance of a no-show lies between 0 and below 1.")
    if not 0 <= horizon.walk_ins <= 200:
        raise ValueError("Walk-ins a session lie between 0 and 200.")
    if not 1 <= horizon.sessions <= 2000:
        raise ValueError("Sessions ahead lie between 1 and 2000.")
    if not 1 <= horizon.days <= 3660:
        raise ValueError("Days ahead lie between 1 and 3660.")


def _order(kind: Kind) -> tuple[int, int, int, float, str]:
    """Needles first, then as the supplies list orders its items; longer needles later."""
    items = list(item_rows())
    place = items.index(kind.item) if kind.item in items else len(items)
    return place, kind.length_mm or 0, kind.gauge or 0, kind.volume_ml or 0.0, kind.item


def _expected(counts: Sequence[int], horizon: Horizon) -> Distribution:
    """Use of the children expected, each of whom comes or stays away."""
    used = NOTHING
    for count, children in Counter(counts).items():
        if count:
            used = add(used, repeat(showing_up(count, 1 - horizon.no_show), children))
    return used


def _unexpected(counts: Sequence[int], horizon: Horizon) -> Distribution:
    """Use of a session's walk-ins: each needs what one of the expected needs."""
    if not counts:
        return NOTHING
    by_count = {count: n / len(counts) for count, n in Counter(counts).items()}
    return walk_ins(horizon.walk_ins, from_shares(by_count))


def _by_route(
    visits: Sequence[Visit], horizon: Horizon, comes: float
) -> dict[tuple[Kind, str], float]:
    pieces: Counter[tuple[Kind, str]] = Counter()
    for visit in visits:
        pieces.update(visit.routes)
    # Mean of the same process: expected children come, and walk-ins are drawn from them.
    drawn = horizon.walk_ins * horizon.sessions / len(visits) if visits else 0
    return {key: count * (comes + drawn) for key, count in pieces.items()}


def _containers(sharps: Distribution) -> Distribution:
    holds = pieces_per_container()
    by_count: dict[int, float] = {}
    for pieces, share in enumerate(sharps.shares, start=sharps.first):
        filled = ceil(round(pieces / holds, 9))
        by_count[filled] = by_count.get(filled, 0.0) + share
    return from_shares(by_count)
