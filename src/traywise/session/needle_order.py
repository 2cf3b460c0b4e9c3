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
from traywise.session.needles import CONTAINER, Demand, Kind, sum_days

SPARED = ("needle", "syringe", "needle+syringe")


class StockLot(msgspec.Struct, frozen=True, kw_only=True):
    """Pieces of one kind at hand; ``expires`` is the last usable day, None if it has none."""

    kind: Kind
    count: int
    expires: date | None = None
    box: int | None = None


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


def plan_orders(demand: Demand, lots: Sequence[StockLot], plan: Plan) -> tuple[OrderLine, ...]:
    """An order line for each kind in use, containers last.

    raises  ValueError for a service level that cannot be
    """
    if not 0.5 <= plan.service < 1:
        raise ValueError("The service level lies between 0.5 and below 1: 0.95 is 95 of 100.")
    lines = [_order_line(kind, demand, _lots_of(kind, lots), plan) for kind in demand.total]
    containers = Kind(CONTAINER)
    lines.append(_container_line(containers, demand, _lots_of(containers, lots), plan))
    return tuple(lines)


def _lots_of(kind: Kind, lots: Sequence[StockLot]) -> list[StockLot]:
    mine = [lot for lot in lots if lot.kind == kind]
    return sorted(mine, key=lambda lot: lot.expires or date.max)


def _order_line(kind: Kind, demand: Demand, lots: Sequence[StockLot], plan: Plan) -> OrderLine:
    """Stock used first to expire; what each lot lacks falls on the next, the rest on the order."""
    spare, horizon, days = _spare(kind, plan), demand.horizon, demand.by_day[kind]
    missing, done, lost, expired = NOTHING, 0, 0.0, 0
    for lot in lots:
        last = lot.expires or horizon.end
        if last < horizon.start:
            expired += lot.count
            continue
        through = sum(day <= last for day, _ in days)
        missing = add(missing, sum_days(days[done:through]))
        done = through
        usable = floor(lot.count / (1 + spare) + 1e-9)
        if last < horizon.end:
            lost += expected_left(missing, usable)
        missing = beyond(missing, usable)
    missing = add(missing, sum_days(days[done:]))
    return _line(kind, demand.total[kind], missing, lots, plan, lost=lost, expired=expired)


def _container_line(kind: Kind, demand: Demand, lots: Sequence[StockLot], plan: Plan) -> OrderLine:
    in_date = [lot for lot in lots if lot.expires is None or lot.expires >= demand.horizon.start]
    missing = beyond(demand.containers, sum(lot.count for lot in in_date))
    expired = sum(lot.count for lot in lots) - sum(lot.count for lot in in_date)
    return _line(kind, demand.containers, missing, lots, plan, lost=0.0, expired=expired)


def _line(
    kind: Kind,
    total: Distribution,
    missing: Distribution,
    lots: Sequence[StockLot],
    plan: Plan,
    *,
    lost: float,
    expired: int,
) -> OrderLine:
    spare = _spare(kind, plan)
    needed = ceil(round(missing.quantile(plan.service) * (1 + spare), 9))
    box = plan.boxes.get(kind) or next((lot.box for lot in lots if lot.box), 1)
    boxes = ceil(needed / box)
    return OrderLine(
        kind=kind,
        demand=total,
        in_stock=sum(lot.count for lot in lots),
        expired=expired,
        lost=lost,
        missing=missing,
        needed=needed,
        box=box,
        boxes=boxes,
        order=boxes * box,
        service=missing.at_most(floor(boxes * box / (1 + spare) + 1e-9)),
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
