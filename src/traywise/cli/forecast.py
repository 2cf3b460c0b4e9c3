"""``traywise forecast``: one JSON answer a line, in the order of the file."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import date, datetime
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

import click

from traywise.cli.input import edition_name, read_records
from traywise.cli.option_types import DATE_ORDER, DAY, DOSES
from traywise.cli.output import screen_width
from traywise.errors import format_fault
from traywise.record.result import Entry
from traywise.record.values import printable
from traywise.schedule.answer import Answer
from traywise.schedule.answer_json import answer_line, unanswered_line
from traywise.screening.answer_for import answer_for


@click.command()
@click.argument("file", type=click.Path(allow_dash=True, path_type=Path))
@DOSES
@DATE_ORDER
@click.option("--edition", default="us-2025", show_default=True, help="Edition, overlays by +.")
@click.option(
    "--on", type=DAY, help="Day to answer for where the record names none; default: today."
)
@click.option("--why", is_flag=True, help="The chain of rows and dates behind every answer.")
@click.option("--text", is_flag=True, help="A readable table instead of JSON lines.")
def forecast(
    file: Path,
    dose_file: Path | None,
    date_order: str | None,
    edition: str,
    on: datetime | None,
    why: bool,
    text: bool,
) -> None:
    """What counts, what is due and what comes next for each child of FILE.

    FILE is JSON, JSON Lines, a table (CSV) or a FHIR bundle; - reads standard input.
    Exit status: 0 every child answered, 1 some were not, 2 wrong command line.
    """
    name = edition_name(edition)
    result = read_records(file, on.date() if on else None, dose_file, date_order)
    for fault in result.faults:
        click.echo(format_fault(fault), err=True)
    missed = 0
    complete = not any(fault.is_error for fault in result.faults)
    out: BinaryIO = BytesIO() if sys.stdout is None else sys.stdout.buffer
    for entry, answer in _answers(result.entries, name, on.date() if on else None, why):
        complete = complete and answer is not None
        missed += answer is None
        if text:
            _write_text(entry, answer, why)
        elif answer is None:
            out.write(unanswered_line(entry.id, on.date() if on else None, name, entry.faults))
        else:
            out.write(answer_line(answer, entry.faults, why=why))
    if text and missed:
        click.echo(
            f"{missed} of {len(result.entries)} records were not answered; what to mend stands "
            "beside each. The others do not depend on it.",
            err=True,
        )
    _flush(out)
    raise SystemExit(0 if complete else 1)


def _answers(
    entries: tuple[Entry, ...], edition: str, on: date | None, why: bool
) -> Iterator[tuple[Entry, Answer | None]]:
    for entry in entries:
        if entry.child is None:
            yield entry, None
            continue
        day = entry.child.assess_on or on or date.today()
        yield entry, answer_for(entry.child, edition, day, why=why)


def _write_text(entry: Entry, answer: Answer | None, why: bool) -> None:
    # Imported late: JSON needs no columns.
    from traywise.paper.columns import Page
    from traywise.paper.terminal import forecast_text

    page = Page(screen_width())
    if answer is None or entry.child is None:
        who = "" if entry.id is None else f"id {printable(entry.id)}, "
        click.echo(f"Not answered: {who}{entry.at}")
        for fault in entry.faults:
            click.echo(format_fault(fault))
        click.echo("")
        return
    click.echo(forecast_text(entry.child, answer, width=page.width))
    if why:
        for group, one in answer.groups.items():
            click.echo(f"\n{group}")
            for step in one.chain:
                click.echo("\n".join(page.hanging("  ", step)))


def _flush(out: BinaryIO) -> None:
    try:
        out.flush()
    except BrokenPipeError:  # the reader, such as head, has enough
        sys.stderr.close()
