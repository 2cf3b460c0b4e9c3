"""How many needles, syringes, wipes, bandages and containers a clinic will use.

In: what each expected child needs (plain counts), the chance that a child does not come,
the mean of walk-ins, and how many sessions like this one lie ahead. Out: a distribution
for each kind of supply. Children come or stay away independently; a walk-in needs what
one of the expected children needs, each equally likely.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from math import ceil
from typing import NamedTuple

import msgspec

from traywise.equipment.supplies import item_rows
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
    """Sessions ahead, each with these visits expected.

    no_show   chance that an expected child does not come, 0 to below 1
    walk_ins  mean number of children who come unexpected, a session
    """

    sessions: int
    no_show: float
    walk_ins: float


class Demand(msgspec.Struct, frozen=True, kw_only=True):
    """Use over the horizon: one session and all of them, by kind; expected needles by route."""

    session: Mapping[Kind, Distribution]
    total: Mapping[Kind, Distribution]
    by_route: Mapping[tuple[Kind, str], float]
    sharps: Distribution
    containers: Distribution


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


def _sharps_of(uses: Mapping[Kind, int]) -> int:
    def total(*items: str) -> int:
        return sum(count for kind, count in uses.items() if kind.item in items)

    return max(total("needle", "needle+syringe"), total("syringe", "needle+syringe"))


def demand(visits: Sequence[Visit], horizon: Horizon) -> Demand:
    """Exact distribution of use over the horizon.

    visits   of one typical session
    raises   ValueError when chance, mean or number of sessions cannot be
    """
    check_horizon(horizon)
    kinds = sorted({kind for visit in visits for kind in visit.uses}, key=_order)
    session = {
        kind: _one_session([visit.uses.get(kind, 0) for visit in visits], horizon) for kind in kinds
    }
    sharps = repeat(_one_session([visit.sharps for visit in visits], horizon), horizon.sessions)
    return Demand(
        session=session,
        total={kind: repeat(one, horizon.sessions) for kind, one in session.items()},
        by_route=_by_route(visits, horizon),
        sharps=sharps,
        containers=_containers(sharps),
    )


def check_horizon(horizon: Horizon) -> None:
    """Raises ValueError for figures outside their range."""
    if not 0 <= horizon.no_show < 1:
        raise ValueError("The chance of a no-show lies between 0 and below 1.")
    if not 0 <= horizon.walk_ins <= 200:
        raise ValueError("Walk-ins a session lie between 0 and 200.")
    if not 1 <= horizon.sessions <= 2000:
        raise ValueError("Sessions ahead lie between 1 and 2000.")


def _order(kind: Kind) -> tuple[int, int, int, float, str]:
    """Needles first, then as the supplies list orders its items; longer needles later."""
    items = list(item_rows())
    place = items.index(kind.item) if kind.item in items else len(items)
    return place, kind.length_mm or 0, kind.gauge or 0, kind.volume_ml or 0.0, kind.item


def _one_session(counts: Sequence[int], horizon: Horizon) -> Distribution:
    expected = NOTHING
    for count, children in Counter(counts).items():
        if count:
            expected = add(expected, repeat(showing_up(count, 1 - horizon.no_show), children))
    if not counts:
        return expected
    by_count = {count: n / len(counts) for count, n in Counter(counts).items()}
    return add(expected, walk_ins(horizon.walk_ins, from_shares(by_count)))


def _by_route(visits: Sequence[Visit], horizon: Horizon) -> dict[tuple[Kind, str], float]:
    pieces: Counter[tuple[Kind, str]] = Counter()
    for visit in visits:
        pieces.update(visit.routes)
    # Mean of the same process: expected children come, and walk-ins are drawn from them.
    comes = 1 - horizon.no_show + (horizon.walk_ins / len(visits) if visits else 0)
    return {key: count * comes * horizon.sessions for key, count in pieces.items()}


def _containers(sharps: Distribution) -> Distribution:
    # Spoilt pieces go into the container too.
    holds = sharps_per_container() / (1 + stock_share("syringe reserve").share)
    by_count: dict[int, float] = {}
    for pieces, share in enumerate(sharps.shares, start=sharps.first):
        filled = ceil(round(pieces / holds, 9))
        by_count[filled] = by_count.get(filled, 0.0) + share
    return from_shares(by_count)
