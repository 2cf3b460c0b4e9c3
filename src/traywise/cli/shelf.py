"""``traywise shelf``: what lies there, what ends soon and for whom it could be used."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click
import msgspec

from traywise.cli.input import edition_name, read_child_file, read_shelf_file, show_faults
from traywise.cli.option_types import DATE_ORDER, DAY, DOSES, read_clock
from traywise.cli.output import screen_width
from traywise.record.result import ReadResult
from traywise.session.shelf_report import ShelfReport, shelf_object
from traywise.session.use_first import CouldUse, could_use
from traywise.shelf.overview import look_over


@click.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="SHELF")
@click.option("--on", type=DAY, help="Day to look at; default: today.")
@click.option("--at", "at_time", help="Hour of that day, HH:MM, for opened vials.")
@click.option(
    "--within",
    "within_days",
    default=30,
    show_default=True,
    type=click.IntRange(0, 3660),
    help="Days ahead that count as soon.",
)
@click.option(
    "--roster",
    type=click.Path(allow_dash=True, path_type=Path),
    help="Children, any kind of record or a population: who could have what ends soon.",
)
@DOSES
@DATE_ORDER
@click.option("--edition", default="us-2025", show_default=True, help="Edition, with --roster.")
@click.option("--json", "as_json", is_flag=True, help="JSON instead of text.")
def shelf(
    file: Path,
    on: datetime | None,
    at_time: str | None,
    within_days: int,
    roster: Path | None,
    dose_file: Path | None,
    date_order: str | None,
    edition: str,
    as_json: bool,
) -> None:
    """The lots of SHELF on a day: usable, open, ending soon, expired; doses by funding.

    With --roster, for each lot that ends soon the children who are due a dose of it by then;
    public and private stock go to children of that funding only, where the record names it.

    Exit status: 0 every line was read, 1 some were not (they are named), 2 wrong command line.
    """
    name = edition_name(edition) if roster is not None else edition
    day = on.date() if on else date.today()
    read = read_shelf_file(file, day)
    report = ShelfReport(
        on=day,
        within_days=within_days,
        states=look_over(read.lots, day, within_days, _now(day, at_time)),
        set_aside=read.set_aside,
        faults=read.faults,
    )
    good = not any(fault.is_error for fault in read.faults)
    if roster is not None:
        records = read_child_file(roster, day, dose_file, date_order)
        show_faults(records.all_faults)
        report = _for_whom(report, records, name)
        good = good and records.complete
    if as_json:
        click.echo(msgspec.json.encode(shelf_object(report)))
    else:
        from traywise.paper.shelf_text import shelf_text

        click.echo(shelf_text(report, file.name, width=screen_width()))
    raise SystemExit(0 if good else 1)


def _now(day: date, at_time: str | None) -> datetime | None:
    """The hour asked for; today it is the clock's, on another day an open vial must last it."""
    if at_time is not None:
        return datetime.combine(day, read_clock(at_time)).astimezone()
    return datetime.now().astimezone() if day == date.today() else None


def _for_whom(report: ShelfReport, records: ReadResult, edition: str) -> ShelfReport:
    """The report with the children who could have what ends soon."""
    children: dict[tuple[str, ...], tuple[CouldUse, ...]] = {}
    lots = [one.lot for one in report.states if one.soon]
    found = could_use(records.children, lots, report.on, edition)
    for lot, own in zip(lots, found, strict=True):
        children[lot.key] = own
    return msgspec.structs.replace(
        report,
        children=children if records.children else None,
        record_faults=records.all_faults,
    )
