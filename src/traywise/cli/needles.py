"""``traywise needles``: what a clinic will use over the sessions ahead, and what to order."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click
import msgspec

from traywise.cli.input import (
    edition_name,
    read_file_bytes,
    read_records,
    read_shelf_file,
    show_faults,
)
from traywise.cli.option_types import DATE_ORDER, DAY, DOSES
from traywise.cli.output import keep_inputs, writing
from traywise.errors import Fault, format_fault
from traywise.paper.wording import supply_words
from traywise.record.decode_text import decode_text
from traywise.record.result import ReadResult
from traywise.session.needle_input import read_lots, read_visits
from traywise.session.needle_order import OrderLine, Plan, plan_orders, spare_words
from traywise.session.needles import (
    Demand,
    Horizon,
    Kind,
    Visit,
    check_horizon,
    demand,
    demand_by_date,
)
from traywise.tray.plan import Supply

CAUTION = (
    "A forecast from these visits and figures, not from what the clinic will meet. "
    "Diluents come with their vaccines. "
    "It supposes that an order arrives before the stock runs out. "
    "The right needle for each child stays the table's."
)


class NeedlesAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What is printed as JSON."""

    expected: str
    start: date
    days: int
    sessions: int
    no_show: float
    walk_ins: float
    service: float
    lines: list[dict[str, object]]
    errors: tuple[Fault, ...] = ()
    warnings: tuple[Fault, ...] = ()


@click.command()
@click.argument("file", type=click.Path(allow_dash=True, path_type=Path))
@click.option(
    "--supplies",
    type=click.Path(path_type=Path),
    help="Stock: CSV item, gauge, length_mm, volume_ml, count, and where known expires, box.",
)
@click.option(
    "--shelf",
    type=click.Path(path_type=Path),
    help="Products kept: then FILE holds records, and the schedule says who comes when.",
)
@DOSES
@DATE_ORDER
@click.option("--edition", default="us-2025", show_default=True, help="Edition, with --shelf.")
@click.option("--sessions", default=1, show_default=True, help="Sessions like this one ahead.")
@click.option("--days", type=int, help="Days they are spread over; default: a week each.")
@click.option("--from", "start", type=DAY, help="First day; default today.")
@click.option("--no-show", default=0.0, show_default=True, help="Chance that a child stays away.")
@click.option("--walk-ins", default=0.0, show_default=True, help="Mean of unexpected children.")
@click.option("--service", default=0.95, show_default=True, help="Chance that supplies last.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.option("--plot", type=click.Path(dir_okay=False, path_type=Path), help="Write an SVG.")
def needles(
    file: Path,
    supplies: Path | None,
    shelf: Path | None,
    dose_file: Path | None,
    date_order: str | None,
    edition: str,
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

    FILE is what "traywise session --json" or "traywise tray --json" prints (or - for standard
    input): the visits of a session, repeated --sessions times. A CSV does too: visit, item,
    gauge, length_mm, volume_ml, count, route. With --shelf, FILE holds children's records, or
    is a population file: each child comes when the schedule's next dose is due, over --days,
    whatever was missed first coming on the first day.
    """
    if plot is not None:
        keep_inputs([plot], [file, supplies, shelf])
    horizon = Horizon(
        start=start.date() if start else date.today(),
        days=7 * sessions if days is None else days,
        sessions=sessions,
        no_show=no_show,
        walk_ins=walk_ins,
    )
    try:
        check_horizon(horizon)
        if shelf is None:
            visits, faults = read_visits(_text(file), _name(file))
            use = demand(visits, horizon)
        else:
            records = _records(file, horizon.start, dose_file, date_order)
            dated, faults = _ahead(records, shelf, horizon, edition_name(edition))
            visits = [visit for _, visit in dated]
            use = demand_by_date(dated, horizon)
        lots, more = read_lots(_text(supplies), supplies.name) if supplies else ([], [])
        lines = plan_orders(use, lots, Plan(service=service))
    except ValueError as error:
        raise click.UsageError(str(error)) from None
    show_faults([*faults, *more])
    if not visits:
        raise click.UsageError("No visit was found, so there is nothing to forecast.")
    expected = f"{_count(len(visits), 'visit')} {'a session' if shelf is None else 'in all'}"
    _show(
        use,
        lines,
        expected,
        Plan(service=service),
        [*faults, *more],
        as_json,
        plot,
        supplies is not None,
    )
    raise SystemExit(1 if any(fault.is_error for fault in (*faults, *more)) else 0)


def _records(file: Path, on: date, dose_file: Path | None, date_order: str | None) -> ReadResult:
    """Children of a population file or of any other."""
    if str(file) != "-" and file.suffix == ".parquet":
        # Imported late: only these files need Arrow.
        from traywise.population import records

        if records.is_population(file):
            return records.read_records(file)
    return read_records(file, on, dose_file, date_order)


def _ahead(
    records: ReadResult, shelf: Path, horizon: Horizon, edition: str
) -> tuple[list[tuple[date, Visit]], list[Fault]]:
    # Imported late: a forecast from ready trays needs no schedule.
    from traywise.session.visits_ahead import visits_ahead

    lots, faults = read_shelf_file(shelf, horizon.start)
    dated = visits_ahead(records.children, lots, horizon.start, horizon.end, edition)
    return dated, [*records.all_faults, *faults]


def _show(
    use: Demand,
    lines: tuple[OrderLine, ...],
    expected: str,
    plan: Plan,
    faults: list[Fault],
    as_json: bool,
    plot: Path | None,
    stock_known: bool,
) -> None:
    if plot is not None:
        _write_plot(plot, lines, use.horizon, plan, stock_known)
    if as_json:
        click.echo(_as_json(expected, plan, use, lines, faults, stock_known))
    else:
        click.echo(describe_orders(expected, plan, use, lines, stock_known=stock_known))


def _text(path: Path) -> str:
    text, faults = decode_text(read_file_bytes(path), _name(path))
    if text is None:
        raise click.UsageError("\n".join(format_fault(fault) for fault in faults))
    return text


def _name(path: Path) -> str:
    return "standard input" if str(path) == "-" else path.name


def _write_plot(
    path: Path, lines: tuple[OrderLine, ...], horizon: Horizon, plan: Plan, stock_known: bool
) -> None:
    from traywise.paper.needles_picture import draw_needles_picture

    svg = draw_needles_picture(lines, horizon, plan, stock_known=stock_known)
    with writing(path):
        path.write_text(svg, encoding="utf-8")


def kind_words(kind: Kind) -> str:
    """A kind as the other pages write it."""
    return supply_words(Supply(item=kind.item, count=0, **_figures(kind)))  # type: ignore[arg-type]


def _figures(kind: Kind) -> dict[str, int | float | None]:
    return {"gauge": kind.gauge, "length_mm": kind.length_mm, "volume_ml": kind.volume_ml}


def _as_json(
    expected: str,
    plan: Plan,
    use: Demand,
    lines: tuple[OrderLine, ...],
    faults: list[Fault],
    stock_known: bool,
) -> str:
    answer = NeedlesAnswer(
        expected=expected,
        start=use.horizon.start,
        days=use.horizon.days,
        sessions=use.horizon.sessions,
        no_show=use.horizon.no_show,
        walk_ins=use.horizon.walk_ins,
        service=plan.service,
        lines=[_line_data(line, use, stock_known) for line in lines],
        errors=tuple(fault for fault in faults if fault.is_error),
        warnings=tuple(fault for fault in faults if not fault.is_error),
    )
    return msgspec.json.format(msgspec.json.encode(answer), indent=2).decode()


def _line_data(line: OrderLine, use: Demand, stock_known: bool) -> dict[str, object]:
    return {
        "item": line.kind.item,
        **_figures(line.kind),
        "expected": round(line.demand.mean, 2),
        "low": line.demand.quantile(0.05),
        "high": line.demand.quantile(0.95),
        "by_route": _routes(line.kind, use),
        "in_stock": line.in_stock if stock_known else None,
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
    expected: str,
    plan: Plan,
    use: Demand,
    lines: tuple[OrderLine, ...],
    *,
    stock_known: bool = True,
) -> str:
    """The table for a terminal."""
    horizon = use.horizon
    head = (
        f"{expected} expected; {_count(horizon.sessions, 'session')} from "
        f"{horizon.start} over {_count(horizon.days, 'day')}; no-shows "
        f"{100 * horizon.no_show:g} of 100, walk-ins {horizon.walk_ins:g} a session; "
        f"supplies last in {100 * plan.service:g} of 100 horizons like this."
    )
    if not stock_known:
        head += " What is at hand is not known: with --supplies less may be needed."
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
                str(line.in_stock) if stock_known else "?",
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
    spare = spare_words(plan)
    notes = ["lost: expires unused, or has expired.", *([f"{spare}."] if spare else [])]
    return "\n".join((head, *table, *notes, CAUTION))


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"
