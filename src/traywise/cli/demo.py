"""``traywise demo``: plans the demo session and writes its sheets."""

from __future__ import annotations

from pathlib import Path

import click

from traywise.cli.output import make_folder, screen_width, writing
from traywise.cli.session import plan_words
from traywise.cli.session_files import write_csv_files, write_pdf_files
from traywise.demo.load import DEMO_DAY, demo_children, demo_files, demo_shelf, demo_supplies
from traywise.paper.columns import Page
from traywise.paper.day_text import board_text
from traywise.paper.session_board import board_of
from traywise.session.day import SessionDay, plan_day
from traywise.tray.compose import Visit


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), default="out/demo")
def demo(folder: Path) -> None:
    """Plan the demo session, all invented, and write its sheets to FOLDER."""
    make_folder(folder)
    shelf, supplies = demo_shelf(), demo_supplies()
    day = plan_day(demo_children(), DEMO_DAY, shelf, supplies)
    alone = plan_day(demo_children(), DEMO_DAY, shelf, supplies, optimise=False)
    # Written before anything is shown: whoever reads only the first lines has the files too.
    written = [*write_pdf_files(day, folder), *write_csv_files(day, folder), *_copies(folder)]
    page = Page(screen_width())
    click.echo(board_text(board_of(day), width=page.width))
    click.echo(plan_words(day))
    click.echo("\n".join(page.wrap(_together(day, alone))))
    click.echo("\nWrote")
    for path in written:
        click.echo(f"  {path}")
    click.echo(
        "\nNext, one child's tray with every reason:\n"
        f"  sed -n 3p {folder}/demo-children.jsonl | .venv/bin/traywise tray - "
        f"--shelf {folder}/demo-shelf.csv --supplies {folder}/demo-supplies.csv --on {DEMO_DAY}\n"
        "or the workbench in a browser:\n"
        "  make serve"
    )


def _copies(folder: Path) -> list[Path]:
    """The demo's own files, under names that no clinic's file has."""
    copies = []
    for path in demo_files().values():
        copy = folder / f"demo-{path.name}"
        with writing(copy):
            copy.write_bytes(path.read_bytes())
        copies.append(copy)
    return copies


def _together(day: SessionDay, alone: SessionDay) -> str:
    """Whom planning together serves who would go without, child by child."""
    gained = []
    for child, visit in zip(day.children, day.visits, strict=True):
        before = alone.visits[alone.children.index(child)]
        groups = sorted(_given(visit) - _given(before))
        if groups:
            gained.append(f"{child.name} would go without {', '.join(groups)}")
    fewer = day.plan.doses - alone.plan.doses
    if fewer <= 0 or not gained:
        return "Child by child as many doses would be given."
    return (
        f"Child by child {fewer} fewer doses would be given, because an earlier child takes what "
        f"a later one cannot do without: {gained[0]}."
    )


def _given(visit: Visit) -> set[str]:
    return {group for place in visit.tray.tray for group in place.groups}
