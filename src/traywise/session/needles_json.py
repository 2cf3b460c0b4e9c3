"""A forecast of needles as plain objects, for ``traywise needles --json``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

import msgspec

from traywise.errors import Fault
from traywise.session.needle_order import LotOutlook, OrderLine, Plan
from traywise.session.needles import Demand, Kind
from traywise.session.run_out import RunOut


class NeedlesAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What is printed as JSON."""

    expected: str
    start: date
    days: int
    sessions: int
    no_show: float
    walk_ins: float
    service: float
    lines: list[NeedlesLine]
    errors: tuple[Fault, ...] = ()
    warnings: tuple[Fault, ...] = ()


class NeedlesLine(msgspec.Struct, frozen=True, kw_only=True):
    """One kind; ``in_stock`` and ``runs_out`` are None where nobody counted the stock."""

    item: str
    gauge: int | None
    length_mm: int | None
    volume_ml: float | None
    expected: float
    low: int
    high: int
    by_route: dict[str, float]
    in_stock: int | None
    runs_out: RunOut | None
    expired: int
    lost: float
    lots: tuple[LotOutlook, ...]
    needed: int
    box: int
    boxes: int
    order: int
    service: float


def needles_answer(
    expected: str,
    plan: Plan,
    use: Demand,
    lines: Sequence[OrderLine],
    faults: Sequence[Fault],
    *,
    stock_known: bool,
) -> NeedlesAnswer:
    """The whole forecast; ``expected`` says which visits it rests on."""
    return NeedlesAnswer(
        expected=expected,
        start=use.horizon.start,
        days=use.horizon.days,
        sessions=use.horizon.sessions,
        no_show=use.horizon.no_show,
        walk_ins=use.horizon.walk_ins,
        service=plan.service,
        lines=[_line(line, use.by_route, stock_known) for line in lines],
        errors=tuple(fault for fault in faults if fault.is_error),
        warnings=tuple(fault for fault in faults if not fault.is_error),
    )


def _line(
    line: OrderLine, by_route: Mapping[tuple[Kind, str], float], stock_known: bool
) -> NeedlesLine:
    return NeedlesLine(
        item=line.kind.item,
        gauge=line.kind.gauge,
        length_mm=line.kind.length_mm,
        volume_ml=line.kind.volume_ml,
        expected=round(line.demand.mean, 2),
        low=line.demand.quantile(0.05),
        high=line.demand.quantile(0.95),
        by_route={route: round(n, 2) for route, n in routes_of(line.kind, by_route)},
        in_stock=line.in_stock if stock_known else None,
        runs_out=line.runs_out if stock_known else None,
        expired=line.expired,
        lost=round(line.lost, 2),
        lots=tuple(msgspec.structs.replace(lot, unused=round(lot.unused, 2)) for lot in line.lots),
        needed=line.needed,
        box=line.box,
        boxes=line.boxes,
        order=line.order,
        service=round(line.service, 4),
    )


def routes_of(kind: Kind, by_route: Mapping[tuple[Kind, str], float]) -> list[tuple[str, float]]:
    """Expected pieces of one kind by route."""
    return [(route, n) for (one, route), n in sorted(by_route.items()) if one == kind]
