"""``traywise session``: all trays of a session, planned together, as text, JSON, CSV or PDF."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path

import click
import msgspec

from traywise.cli.input import (
    asked_groups,
    born_by,
    edition_name,
    lost_files,
    lost_records,
    needle_policy_name,
    read_records,
    read_supply_file,
    read_usable_shelf,
    show_faults,
)
from traywise.cli.option_types import DATE_ORDER, DAY, DOSES, Number, read_clock
from traywise.cli.output import keep_inputs, make_folder, screen_width
from traywise.cli.session_files import CSV_FILES, PDF_FILES, write_csv_files, write_pdf_files
from traywise.cli.what_if import KINDS, Known, differences, known_changes, read_wishes
from traywise.equipment.place import SupplyOnHand
from traywise.errors import Fault, InputError
from traywise.session.check import check_plan
from traywise.session.day import Hours, SessionDay, plan_day
from traywise.session.request import Weights
from traywise.session.session_json import session_object
from traywise.session.whatif import Difference
from traywise.shelf.lot import Lot

PATIENCE_S = 2.0
WEIGHT_HELP = "Change a weight of tables/session.toml, such as overdue-day=2."


@click.command()
@click.argument("roster", type=click.Path(allow_dash=True, path_type=Path))
@DOSES
@DATE_ORDER
@click.option("--shelf", "shelf_file", required=True, type=click.Path(path_type=Path))
@click.option("--supplies", "supplies_file", type=click.Path(path_type=Path))
@click.option("--on", type=DAY, help="Day of the session; default: today.")
@click.option("--from", "start", metavar="HH:MM", help="Begin; default 08:00 or the roster's.")
@click.option("--to", "end", metavar="HH:MM", help="End; default 12:00 or the roster's.")
@click.option("--vaccinators", type=click.IntRange(0, 1000), help="Default: not limited.")
@click.option("--edition", default="us-2025", show_default=True, help="Edition, overlays by +.")
@click.option("--needle-policy", default="acip-2024", show_default=True)
@click.option("--ask-for", multiple=True, help="Give a group left to shared decision.")
@click.option(
    "--seconds",
    default=20.0,
    show_default=True,
    type=Number(0, 86_400, min_open=True),
    help="For the search.",
)
@click.option("--weight", "weights", multiple=True, metavar="NAME=NUMBER", help=WEIGHT_HELP)
@click.option("--child-by-child", is_flag=True, help="Without planning together.")
@click.option("--check", is_flag=True, help="Re-check the plan by rules written a second time.")
@click.option("--what-if", "wishes", multiple=True, metavar="CHANGE", help=f"One of: {KINDS}.")
@click.option("--json", "as_json", is_flag=True, help="JSON instead of text.")
@click.option("--csv", "csv_folder", type=click.Path(file_okay=False, path_type=Path))
@click.option("--pdf", "pdf_folder", type=click.Path(file_okay=False, path_type=Path))
def session(
    roster: Path,
    dose_file: Path | None,
    date_order: str | None,
    shelf_file: Path,
    supplies_file: Path | None,
    on: datetime | None,
    start: str | None,
    end: str | None,
    vaccinators: int | None,
    edition: str,
    needle_policy: str,
    ask_for: tuple[str, ...],
    seconds: float,
    weights: tuple[str, ...],
    child_by_child: bool,
    check: bool,
    wishes: tuple[str, ...],
    as_json: bool,
    csv_folder: Path | None,
    pdf_folder: Path | None,
) -> None:
    """All trays of a session against the shelf as a whole.

    Exit status: 0 every child planned, 1 some records, the shelf or the supplies could not be
    used (what was read is planned all the same) or --check found something, 2 wrong command line.
    """
    # All that the command line says is checked before anything is read or planned.
    inputs = [roster, dose_file, shelf_file, supplies_file]
    _keep_folders(((csv_folder, CSV_FILES), (pdf_folder, PDF_FILES)), inputs)
    name = edition_name(edition)
    policy, asked = needle_policy_name(needle_policy), asked_groups(name, ask_for)
    hours, points = _hours(start, end, vaccinators), _weights(weights)
    asked_changes = read_wishes(wishes)
    day = on.date() if on else date.today()
    result = born_by(read_records(roster, day, dose_file, date_order), day)
    shelf, supplies, faults = _stock(shelf_file, supplies_file, day)
    faults = (*result.all_faults, *faults)
    show_faults(faults)
    with _faults_end_with(2):
        changes = known_changes(asked_changes, Known(shelf or (), result.children, day))
    lost = lost_files(faults)
    with _faults_end_with(1):
        planned = plan_day(
            result.children,
            day,
            shelf,
            supplies,
            name,
            hours=hours,
            weights=points,
            policy=policy,
            seconds=seconds,
            progress=_progress(),
            optimise=not child_by_child,
            asked=asked,
            notes=[*lost_records(result), *(fault.text for fault in lost)],
        )
    sound = _is_sound(planned) if check else True
    _write(planned, csv_folder, pdf_folder)
    with _faults_end_with(2):
        found = differences(planned, changes)
    _show(planned, found, faults, as_json)
    raise SystemExit(0 if result.complete and sound and not lost else 1)


def _keep_folders(
    folders: Iterable[tuple[Path | None, Sequence[str]]], inputs: Sequence[Path | None]
) -> None:
    """The folders to write into are there, and nothing in them that is read is written over."""
    for folder, names in folders:
        if folder is not None:
            keep_inputs([folder / name for name in names], inputs)
            make_folder(folder)


def _hours(start: str | None, end: str | None, vaccinators: int | None) -> Hours:
    begins = None if start is None else read_clock(start)
    ends = None if end is None else read_clock(end)
    if begins is not None and ends is not None and ends <= begins:
        raise click.UsageError(f"The session would end at {end}, before it begins at {start}.")
    return Hours(start=begins, end=ends, vaccinators=vaccinators)


def _stock(
    shelf: Path, supplies: Path | None, day: date
) -> tuple[Sequence[Lot] | None, Sequence[SupplyOnHand] | None, tuple[Fault, ...]]:
    """The shelf and the supplies, each None where it is not known; and the faults of both."""
    lots, shelf_faults = read_usable_shelf(shelf, day)
    lines, supply_faults = read_supply_file(supplies, day)
    return lots, lines, (*shelf_faults, *supply_faults)


@contextmanager
def _faults_end_with(status: int) -> Iterator[None]:
    """Faults of the input in words, and the exit status."""
    try:
        yield
    except InputError as error:
        show_faults(error.faults)
        raise SystemExit(status) from None


def _is_sound(planned: SessionDay) -> bool:
    """Whether the rules written a second time find nothing in the plan; says so."""
    found = check_plan(planned.session, planned.plan)
    show_faults(found)
    if not found:
        click.echo("The plan was checked: nothing found.", err=True)
    return not found


def _write(planned: SessionDay, csv_folder: Path | None, pdf_folder: Path | None) -> None:
    written = []
    if csv_folder is not None:
        written += write_csv_files(planned, csv_folder)
    if pdf_folder is not None:
        written += write_pdf_files(planned, pdf_folder)
    for path in written:
        click.echo(f"Wrote {path}", err=True)


def _show(
    planned: SessionDay,
    changes: Sequence[tuple[str, Difference]],
    faults: Sequence[Fault],
    as_json: bool,
) -> None:
    if as_json:
        what_if = [{"change": wish, "lines": one.lines} for wish, one in changes]
        click.echo(msgspec.json.encode({**session_object(planned, faults), "what_if": what_if}))
        return
    from traywise.paper.columns import Page
    from traywise.paper.day_text import board_text
    from traywise.paper.session_board import board_of

    page = Page(screen_width())
    click.echo(board_text(board_of(planned), width=page.width))
    click.echo(plan_words(planned))
    for wish, one in changes:
        click.echo(f"\nWhat if {wish}")
        for line in one.lines:
            click.echo("\n".join(page.hanging("  ", line)))


def _weights(wishes: tuple[str, ...]) -> Weights:
    """The table's weights with those of the command line in their place."""
    names = [name.replace("_", "-") for name in Weights.__struct_fields__]
    changes = {}
    for wish in wishes:
        name, _, value = wish.partition("=")
        if name not in names or not value.isdecimal() or len(value) > 6:
            known = ", ".join(names)
            raise click.UsageError(
                f'--weight "{wish}" is not understood. Write NAME=NUMBER with a whole number '
                f"below a million; names: {known}."
            )
        changes[name.replace("-", "_")] = int(value)
    return Weights.of_table(**changes)


def plan_words(planned: SessionDay) -> str:
    """How good the plan is, in one line."""
    if not planned.session.shelf_known:
        return "Nothing was planned."
    plan = planned.plan
    proof = "proven best" if plan.proven else f"within {plan.gap:.1%} of the best"
    return f"Planned in {plan.seconds:.1f} s, {proof}."


def _progress() -> Callable[[str], None] | None:
    """What the search does, for whoever waits at a terminal longer than a moment."""
    began = time.monotonic()

    def tell(line: str) -> None:
        if time.monotonic() - began > PATIENCE_S:
            click.echo(f"Still searching, criterion by criterion: {line}", err=True)

    return tell if sys.stderr.isatty() else None
