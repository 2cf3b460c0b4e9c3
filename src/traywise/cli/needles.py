"""``traywise needles``: what a clinic will use over the sessions ahead, and what to order."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path

import click
import msgspec

from traywise.cli.input import (
    edition_name,
    read_child_file,
    read_file_bytes,
    read_shelf_file,
    read_supply_file,
    show_faults,
)
from traywise.cli.option_types import DATE_ORDER, DAY, DOSES
from traywise.cli.output import keep_inputs, screen_width, writing
from traywise.errors import Fault, format_fault
from traywise.paper.needles_text import needles_text
from traywise.record.decode_text import decode_text
from traywise.session.needle_input import lots_of, read_visits
from traywise.session.needle_order import OrderLine, Plan, check_service, plan_orders
from traywise.session.needles import Demand, Horizon, check_horizon, demand, demand_by_date
from traywise.session.needles_json import needles_answer


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
    """What a clinic will use, as a range, when each item runs out, and what to order.

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
    plan = Plan(service=service)
    _check_figures(horizon, plan)
    if shelf is None:
        use, visits, faults = _of_visits(file, horizon)
    else:
        name = edition_name(edition)
        use, visits, faults = _of_records(file, shelf, horizon, name, dose_file, date_order)
    at_hand, more = read_supply_file(supplies, horizon.start)
    faults = [*faults, *more]
    show_faults(faults)
    if not visits:
        hint = " For children's records name the products kept: --shelf." if shelf is None else ""
        raise click.UsageError(f"No visit was found, so there is nothing to forecast.{hint}")
    expected = f"{_visits(visits)} {'a session' if shelf is None else 'in all'}"
    lines = plan_orders(use, lots_of(at_hand or ()), plan)
    known = at_hand is not None
    if plot is not None:
        _write_plot(plot, lines, horizon, plan, known)
    if as_json:
        answer = needles_answer(expected, plan, use, lines, faults, stock_known=known)
        click.echo(msgspec.json.format(msgspec.json.encode(answer), indent=2).decode())
    else:
        width = screen_width()
        click.echo(needles_text(expected, plan, use, lines, stock_known=known, width=width))
    raise SystemExit(1 if any(fault.is_error for fault in faults) else 0)


def _check_figures(horizon: Horizon, plan: Plan) -> None:
    """Exit 2 for figures outside their range, before anything is read."""
    try:
        check_horizon(horizon)
        check_service(plan.service)
    except ValueError as error:
        raise click.UsageError(str(error)) from None


def _of_visits(file: Path, horizon: Horizon) -> tuple[Demand, int, Sequence[Fault]]:
    """Use by the visits of one session, repeated; how many these are; faults."""
    name = "standard input" if str(file) == "-" else file.name
    text, found = decode_text(read_file_bytes(file), name)
    if text is None:
        raise click.UsageError("\n".join(format_fault(fault) for fault in found))
    visits, faults = read_visits(text, name)
    return demand(visits, horizon), len(visits), faults


def _of_records(
    file: Path,
    shelf: Path,
    horizon: Horizon,
    edition: str,
    dose_file: Path | None,
    date_order: str | None,
) -> tuple[Demand, int, Sequence[Fault]]:
    """The same by records: each child comes when the schedule's next dose is due."""
    # Imported late: a forecast from ready trays needs no schedule.
    from traywise.session.visits_ahead import visits_ahead

    records = read_child_file(file, horizon.start, dose_file, date_order)
    kept = read_shelf_file(shelf, horizon.start)
    dated = visits_ahead(records.children, kept.lots, horizon.start, horizon.end, edition)
    return demand_by_date(dated, horizon), len(dated), [*records.all_faults, *kept.faults]


def _visits(count: int) -> str:
    return f"{count} visit{'' if count == 1 else 's'}"


def _write_plot(
    path: Path, lines: tuple[OrderLine, ...], horizon: Horizon, plan: Plan, stock_known: bool
) -> None:
    from traywise.paper.needles_picture import draw_needles_picture

    svg = draw_needles_picture(lines, horizon, plan, stock_known=stock_known)
    with writing(path):
        path.write_text(svg, encoding="utf-8")
