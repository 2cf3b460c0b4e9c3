"""``traywise needles``: what a clinic will use over the sessions ahead, and what to order."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click
import msgspec

from traywise.cli.input import DAY, read_file_bytes
from traywise.errors import Fault, format_fault
from traywise.paper.wording import supply_words
from traywise.session.needle_input import read_lots, read_visits
from traywise.session.needle_order import OrderLine, Plan, StockLot, plan_orders
from traywise.session.needles import Demand, Horizon, Kind, Visit, demand
from traywise.tray.plan import Supply

CAUTION = (
    "A forecast from the visits given and the figures above, not from what the clinic will meet. "
    "Diluents come with their vaccines. "
    "It supposes that an order arrives before the stock runs out. "
    "The right needle for each child stays the table's."
)


class NeedlesAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What is printed as JSON."""

    visits: int
    sessions: int
    no_show: float
    walk_ins: float
    service: float
    lines: list[dict[str, object]]
    errors: tuple[Fault, ...] = ()
    warnings: tuple[Fault, ...] = ()


@click.command()
@click.argument("visits", type=click.Path(path_type=Path))
@click.option(
    "--supplies",
    type=click.Path(path_type=Path),
    help="Stock: CSV item, gauge, length_mm, volume_ml, count, and where known expires, box.",
)
@click.option("--sessions", default=1, show_default=True, help="Sessions like this one ahead.")
@click.option("--days", type=int, help="Days they are spread over; default: a week each.")
@click.option("--from", "start", type=DAY, help="First day; default today.")
@click.option("--no-show", default=0.0, show_default=True, help="Chance that a child stays away.")
@click.option("--walk-ins", default=0.0, show_default=True, help="Mean of unexpected children.")
@click.option("--service", default=0.95, show_default=True, help="Chance that supplies last.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.option("--plot", type=click.Path(dir_okay=False, path_type=Path), help="Write an SVG.")
def needles(
    visits: Path,
    supplies: Path | None,
    sessions: int,
    days: int | None,
    start: datetime | None,
    no_show: float,
    walk_ins: float,
    service: float,
    as_json: bool,
    plot: Path | None,
) -> None:
    """What a clinic will use, as a range, and what to order.

    VISITS is what "traywise session --json" or "traywise tray --json" prints (or - for standard
    input), or a CSV: visit, item, gauge, length_mm, volume_ml, count, route.
    """
    expected, faults = read_visits(_text(visits), visits.name)
    lots: list[StockLot] = []
    if supplies is not None:
        lots, more = read_lots(_text(supplies), supplies.name)
        faults += more
    for fault in faults:
        click.echo(format_fault(fault), err=True)
    if not expected:
        raise click.UsageError("No visit was read, so there is nothing to forecast.")
    horizon = Horizon(sessions=sessions, no_show=no_show, walk_ins=walk_ins)
    plan = Plan(
        start=start.date() if start else date.today(),
        days=days or 7 * sessions,
        sessions=sessions,
        service=service,
    )
    try:
        use = demand(expected, horizon)
        lines = plan_orders(use, lots, plan)
    except ValueError as error:
        raise click.UsageError(str(error)) from None
    if plot is not None:
        _write_plot(plot, lines, horizon, plan)
    if as_json:
        click.echo(_as_json(expected, horizon, plan, use, lines, faults))
    else:
        click.echo(describe_orders(expected, horizon, plan, use, lines))
    raise SystemExit(1 if any(fault.is_error for fault in faults) else 0)


def _text(path: Path) -> str:
    try:
        return read_file_bytes(path).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise click.UsageError(f"{path} is not UTF-8 text. Save it as UTF-8.") from None


def _write_plot(path: Path, lines: tuple[OrderLine, ...], horizon: Horizon, plan: Plan) -> None:
    from traywise.paper.needles_picture import draw_needles_picture

    try:
        path.write_text(draw_needles_picture(lines, horizon, plan), encoding="utf-8")
    except OSError as error:
        raise click.UsageError(f"{path} could not be written: {error.strerror}.") from None


def kind_words(kind: Kind) -> str:
    """A kind as the other pages write it."""
    return supply_words(Supply(item=kind.item, count=0, **_figures(kind)))  # type: ignore[arg-type]


def _figures(kind: Kind) -> dict[str, int | float | None]:
    return {"gauge": kind.gauge, "length_mm": kind.length_mm, "volume_ml": kind.volume_ml}


def _as_json(
    visits: list[Visit],
    horizon: Horizon,
    plan: Plan,
    use: Demand,
    lines: tuple[OrderLine, ...],
    faults: list[Fault],
) -> str:
    answer = NeedlesAnswer(
        visits=len(visits),
        sessions=horizon.sessions,
        no_show=horizon.no_show,
        walk_ins=horizon.walk_ins,
        service=plan.service,
        lines=[_line_data(line, use) for line in lines],
        errors=tuple(fault for fault in faults if fault.is_error),
        warnings=tuple(fault for fault in faults if not fault.is_error),
    )
    return msgspec.json.format(msgspec.json.encode(answer), indent=2).decode()


def _line_data(line: OrderLine, use: Demand) -> dict[str, object]:
    return {
        "item": line.kind.item,
        **_figures(line.kind),
        "expected": round(line.demand.mean, 2),
        "low": line.demand.quantile(0.05),
        "high": line.demand.quantile(0.95),
        "by_route": _routes(line.kind, use),
        "in_stock": line.in_stock,
        "expired": line.expired,
        "lost": round(line.lost, 2),
        "needed": line.needed,
        "box": line.box,
        "boxes": line.boxes,
        "order": line.order,
        "service": round(line.service, 4),
    }


def _routes(kind: Kind, use: Demand) -> dict[str, float]:
    return {route: round(n, 2) for (k, route), n in sorted(use.by_route.items()) if k == kind}


def describe_orders(
    visits: list[Visit],
    horizon: Horizon,
    plan: Plan,
    use: Demand,
    lines: tuple[OrderLine, ...],
) -> str:
    """The table for a terminal."""
    head = (
        f"{len(visits)} visit{'' if len(visits) == 1 else 's'} expected a session, "
        f"{horizon.sessions} session{'' if horizon.sessions == 1 else 's'} from "
        f"{plan.start} over {plan.days} days; no-shows {100 * horizon.no_show:g} of 100, "
        f"walk-ins {horizon.walk_ins:g} a session; supplies last in "
        f"{100 * plan.service:g} of 100 horizons like this."
    )
    rows = [("item", "use", "5 to 95", "stock", "lost", "order", "route")]
    for line in lines:
        routes = ", ".join(f"{route} {n:.0f}" for route, n in _routes(line.kind, use).items())
        boxes = f" ({line.boxes} x {line.box})" if line.box > 1 and line.boxes else ""
        lost = f"{line.lost + line.expired:.0f}" if line.lost + line.expired >= 0.5 else ""
        rows.append(
            (
                kind_words(line.kind),
                f"{line.demand.mean:.0f}",
                f"{line.demand.quantile(0.05)} to {line.demand.quantile(0.95)}",
                str(line.in_stock),
                lost,
                f"{line.order}{boxes}",
                routes,
            )
        )
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    table = [
        "  ".join(
            cell.ljust(width) if column in (0, 5, 6) else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
    return "\n".join((head, *table, "lost: expires unused, or has expired.", CAUTION))
