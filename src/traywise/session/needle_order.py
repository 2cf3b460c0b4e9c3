"""What to order so that supplies last a horizon with a chosen chance, against stock and expiry.

Stock that expires first is used first. A lot serves only the sessions up to its last day;
what it leaves over is lost, what it lacks falls on the next lot. Carried through lot by
lot, this gives the exact distribution of what is still missing, and the order covers it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from math import ceil, floor

import msgspec

from traywise.rulebook.stock import stock_share
from traywise.session.distribution import NOTHING, Distribution, add, beyond, expected_left
from traywise.session.needles import (
    CONTAINER,
    Days,
    Demand,
    Kind,
    pieces_per_container,
    sum_days,
)
from traywise.session.run_out import Reserve, RunOut, run_out

SPARED = ("needle", "syringe", "needle+syringe")


class StockLot(msgspec.Struct, frozen=True, kw_only=True):
    """Pieces of one kind at hand; ``expires`` is the last usable day, None if it has none."""

    kind: Kind
    count: int
    expires: date | None = None
    box: int | None = None


class LotOutlook(msgspec.Struct, frozen=True, kw_only=True):
    """A lot that expires within the horizon, or had expired before it begins.

    unused  expected pieces of it that are left when it expires
    """

    expires: date
    count: int
    unused: float
    expired: bool = False


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """The chance with which supplies shall last the horizon, and how they are sold.

    service  0.5 to below 1
    boxes    pieces in a box by kind, where known; otherwise the stock's box, or single pieces
    spare    spoilt pieces for each used one, needles and syringes; None: the table's
    """

    service: float
    boxes: Mapping[Kind, int] = {}
    spare: float | None = None


class OrderLine(msgspec.Struct, frozen=True, kw_only=True):
    """One kind: expected use, what is at hand, what to order and what is likely lost.

    needed    pieces to order so that demand is met with the chance asked for
    order     the same in whole boxes
    service   chance that use is met once the order is there
    lost      expected pieces that expire unused within the horizon
    runs_out  the first day on which a piece is lacking if nothing is ordered
    lots      those that expire within the horizon or have expired, in the order of use
    """

    kind: Kind
    demand: Distribution
    in_stock: int
    expired: int
    lost: float
    missing: Distribution
    needed: int
    box: int
    boxes: int
    order: int
    service: float
    runs_out: RunOut
    lots: tuple[LotOutlook, ...] = ()


def plan_orders(demand: Demand, lots: Sequence[StockLot], plan: Plan) -> tuple[OrderLine, ...]:
    """An order line for each kind in use, containers last.

    raises  ValueError for a service level that cannot be
    """
    check_service(plan.service)
    lines = [_order_line(kind, demand, _lots_of(kind, lots), plan) for kind in demand.total]
    containers = Kind(CONTAINER)
    lines.append(_container_line(containers, demand, _lots_of(containers, lots), plan))
    return tuple(lines)


def check_service(service: float) -> None:
    """Raises ValueError for a service level that cannot be."""
    if not 0.5 <= service < 1:
        raise ValueError("The service level lies between 0.5 and below 1: 0.95 is 95 of 100.")


def _lots_of(kind: Kind, lots: Sequence[StockLot]) -> list[StockLot]:
    mine = [lot for lot in lots if lot.kind == kind]
    return sorted(mine, key=lambda lot: lot.expires or date.max)


def _order_line(kind: Kind, demand: Demand, lots: Sequence[StockLot], plan: Plan) -> OrderLine:
    horizon, days = demand.horizon, demand.by_day[kind]
    in_date, outlook = _expired_apart(lots, horizon.start)
    spare = _spare(kind, plan)
    missing, soon = _carry(days, in_date, horizon.end, spare)
    runs_out = run_out(days, [Reserve(lot.expires, _usable(lot, spare)) for lot in in_date])
    return _line(kind, demand.total[kind], missing, lots, plan, runs_out, [*outlook, *soon])


def _expired_apart(
    lots: Sequence[StockLot], start: date
) -> tuple[list[StockLot], list[LotOutlook]]:
    """Lots that may be used, and those whose last day has passed."""
    gone = [lot for lot in lots if lot.expires is not None and lot.expires < start]
    outlook = [
        LotOutlook(expires=lot.expires, count=lot.count, unused=lot.count, expired=True)
        for lot in gone
        if lot.expires is not None and lot.count
    ]
    return [lot for lot in lots if lot not in gone], outlook


def _carry(
    days: Days, lots: Sequence[StockLot], end: date, spare: float
) -> tuple[Distribution, list[LotOutlook]]:
    """What is missing after all days: stock used first to expire, what one lot lacks falls on
    the next; and the lots that expire before the end.
    """
    missing, done = NOTHING, 0
    outlook = []
    for lot in lots:
        last = lot.expires or end
        through = sum(day <= last for day, _ in days)
        missing = add(missing, sum_days(days[done:through]))
        done = through
        usable = _usable(lot, spare)
        if lot.expires is not None and last < end and lot.count:
            unused = expected_left(missing, usable)
            outlook.append(LotOutlook(expires=lot.expires, count=lot.count, unused=unused))
        missing = beyond(missing, usable)
    return add(missing, sum_days(days[done:])), outlook


def _usable(lot: StockLot, spare: float) -> int:
    """Pieces of a lot that reach a child, the spoilt ones left out."""
    return floor(lot.count / (1 + spare) + 1e-9)


def _container_line(kind: Kind, demand: Demand, lots: Sequence[StockLot], plan: Plan) -> OrderLine:
    in_date, outlook = _expired_apart(lots, demand.horizon.start)
    at_hand = sum(lot.count for lot in in_date)
    missing = beyond(demand.containers, at_hand)
    room = floor(at_hand * pieces_per_container() + 1e-9)
    runs_out = run_out(demand.sharps_by_day, [Reserve(None, room)])
    return _line(kind, demand.containers, missing, lots, plan, runs_out, outlook)


def _line(
    kind: Kind,
    total: Distribution,
    missing: Distribution,
    lots: Sequence[StockLot],
    plan: Plan,
    runs_out: RunOut,
    outlook: Sequence[LotOutlook],
) -> OrderLine:
    spare = _spare(kind, plan)
    needed = ceil(round(missing.quantile(plan.service) * (1 + spare), 9))
    box = plan.boxes.get(kind) or next((lot.box for lot in lots if lot.box), 1)
    boxes = ceil(needed / box)
    return OrderLine(
        kind=kind,
        demand=total,
        in_stock=sum(lot.count for lot in lots),
        expired=sum(lot.count for lot in outlook if lot.expired),
        lost=sum(lot.unused for lot in outlook if not lot.expired),
        missing=missing,
        needed=needed,
        box=box,
        boxes=boxes,
        order=boxes * box,
        service=missing.at_most(floor(boxes * box / (1 + spare) + 1e-9)),
        runs_out=runs_out,
        lots=tuple(outlook),
    )


def _spare(kind: Kind, plan: Plan) -> float:
    return spare_share(plan) if kind.item in SPARED else 0.0


def spare_share(plan: Plan) -> float:
    """Spoilt needles and syringes counted for each used one."""
    return stock_share("syringe reserve").share if plan.spare is None else plan.spare


def spare_words(plan: Plan) -> str:
    """What the order of needles and syringes holds beyond their use; "" for nothing."""
    share = spare_share(plan)
    if not share:
        return ""
    return f"order: {100 * share:g} of 100 more needles and syringes than used, for spoilt ones"
