"""``traywise tray``: the tray of one child, as text, JSON or a printed sheet."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Literal

import click
import msgspec

from traywise.cli.input import (
    asked_groups,
    edition_name,
    lost_files,
    needle_policy_name,
    read_one_child,
    read_supply_file,
    read_usable_shelf,
    show_faults,
)
from traywise.cli.option_types import DATE_ORDER, DAY, DOSES, read_clock
from traywise.cli.output import keep_inputs, screen_width, writing
from traywise.errors import Fault
from traywise.record.child import Child
from traywise.tray.compose import Visit, compose_tray, with_cautions

PaperSize = Literal["a4", "a5", "us-letter"]
PAPERS: dict[str, PaperSize] = {
    "a4": "a4",
    "a5": "a5",
    "us-letter": "us-letter",
}


@click.command()
@click.argument("file", type=click.Path(allow_dash=True, path_type=Path))
@DOSES
@DATE_ORDER
@click.option("--shelf", "shelf_file", required=True, type=click.Path(path_type=Path))
@click.option("--supplies", "supplies_file", type=click.Path(path_type=Path))
@click.option(
    "--on", type=DAY, help="Day of the visit where the record names none; default: today."
)
@click.option("--at", "at_time", help="Time of the visit, HH:MM, for opened vials.")
@click.option("--edition", default="us-2025", show_default=True, help="Edition, overlays by +.")
@click.option("--needle-policy", default="acip-2024", show_default=True)
@click.option("--funding", type=click.Choice(["public", "private"]), help="The child's source.")
@click.option("--ask-for", multiple=True, help="Give a group left to shared decision.")
@click.option("--json", "as_json", is_flag=True, help="JSON instead of text.")
@click.option("--pdf", type=click.Path(dir_okay=False, path_type=Path), help="Printed sheet.")
@click.option(
    "--parent-sheet",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Sheet to take home, for when all places were given.",
)
@click.option("--language", type=click.Choice(["en", "es"]), default="en", show_default=True)
@click.option("--paper", type=click.Choice(list(PAPERS)), default="a4", show_default=True)
def tray(
    file: Path,
    dose_file: Path | None,
    date_order: str | None,
    shelf_file: Path,
    supplies_file: Path | None,
    on: datetime | None,
    at_time: str | None,
    edition: str,
    needle_policy: str,
    funding: str | None,
    ask_for: tuple[str, ...],
    as_json: bool,
    pdf: Path | None,
    parent_sheet: Path | None,
    language: Literal["en", "es"],
    paper: str,
) -> None:
    """The tray of the one child in FILE: products, sites, needles, order, reasons.

    Exit status: 0 composed, 1 the record, the shelf or the supplies cannot be used (the record
    is answered all the same where it can be), 2 wrong command line.
    """
    keep_inputs(
        [path for path in (pdf, parent_sheet) if path is not None],
        [file, dose_file, shelf_file, supplies_file],
    )
    name = edition_name(edition)
    policy, asked = needle_policy_name(needle_policy), asked_groups(name, ask_for)
    now_at = None if at_time is None else read_clock(at_time)
    child, record_faults = read_one_child(file, on.date() if on else None, dose_file, date_order)
    day = child.assess_on or (on.date() if on else date.today())
    lots, shelf_faults = read_usable_shelf(shelf_file, day)
    supplies, supply_faults = read_supply_file(supplies_file, day)
    now = None if now_at is None else datetime.combine(day, now_at).astimezone()
    faults = (*record_faults, *shelf_faults, *supply_faults)
    visit = compose_tray(
        child,
        day,
        lots,
        supplies,
        name,
        policy=policy,
        now=now,
        funding=funding,
        asked=asked,
    )
    lost = lost_files(faults)
    visit = with_cautions(visit, [fault.text for fault in lost])
    if pdf is not None:
        _write(pdf, _sheet(child, visit, day, PAPERS[paper]))
    if parent_sheet is not None:
        _write(parent_sheet, _parent_sheet(child, visit, day, language, PAPERS[paper]))
    _show(child, visit, day, faults, as_json)
    raise SystemExit(1 if lost else 0)


def _show(child: Child, visit: Visit, day: date, faults: Sequence[Fault], as_json: bool) -> None:
    if as_json:
        from traywise.tray.tray_json import visit_line

        click.echo(visit_line(visit, faults), nl=False)
    else:
        from traywise.paper.terminal import tray_text

        show_faults(faults)
        click.echo(tray_text(child, visit.answer, visit.tray, day, width=screen_width()))


def _write(path: Path, content: bytes) -> None:
    with writing(path):
        path.write_bytes(content)
    click.echo(f"Wrote {path}", err=True)


# Imported late: the text needs no typesetting.


def _sheet(child: Child, visit: Visit, day: date, size: PaperSize) -> bytes:
    from traywise.paper.sheet import tray_sheet_pdf

    return tray_sheet_pdf(child, visit.answer, visit.tray, day, paper=size)


def _parent_sheet(
    child: Child, visit: Visit, day: date, language: Literal["en", "es"], size: PaperSize
) -> bytes:
    from traywise.paper.parent_sheet import parent_sheet_pdf

    groups = visit.tray.afterwards or visit.answer.groups
    after = msgspec.structs.replace(visit.answer, groups=groups)
    return parent_sheet_pdf(child, visit.tray.tray, after, day, language=language, paper=size)
