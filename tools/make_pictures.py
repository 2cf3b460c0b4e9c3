"""Renders the pictures of the README: tray sheet, labels, body map, day's board, parent's sheet.

    python tools/make_pictures.py                   from the invented children of the tests
    python tools/make_pictures.py CHILD.json TRAY.json ANSWER.json [--on DATE]
                                                    from any child, tray and answer

The JSON files hold what msgspec writes of Child, Tray and Answer. Pictures go to docs/pictures.
"""

from __future__ import annotations

import argparse
import sys
from datetime import date
from pathlib import Path

import msgspec

from traywise.calendar import age_on
from traywise.paper.body_map import Mark, body_map_svg
from traywise.paper.day_sheet import day_sheet_png
from traywise.paper.figures import figure_for
from traywise.paper.parent_sheet import parent_sheet_png
from traywise.paper.sheet import tray_sheets_png
from traywise.paper.sheet_data import TraySheet
from traywise.paper.typesetting import BODY_FONT, render_svg_png
from traywise.record.child import Child
from traywise.schedule.answer import Answer
from traywise.tray.plan import Tray

ROOT = Path(__file__).resolve().parent.parent
PIXELS_PER_INCH = 120


def main() -> None:
    """Read the arguments, render, say what was written."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("files", nargs="*", type=Path, help="CHILD.json TRAY.json ANSWER.json")
    parser.add_argument("--on", type=date.fromisoformat, default=None)
    parser.add_argument("--out", type=Path, default=ROOT / "docs" / "pictures")
    arguments = parser.parse_args()
    if len(arguments.files) not in (0, 3):
        parser.error("give no file, or child, tray and answer")
    arguments.out.mkdir(parents=True, exist_ok=True)
    sheet = read_sheet(arguments.files, arguments.on) if arguments.files else invented_sheet()
    pictures = {**sheet_pictures(sheet), **({} if arguments.files else board_picture())}
    for name, png in pictures.items():
        path = arguments.out / f"{name}.png"
        path.write_bytes(png)
        print(path)


def read_sheet(files: list[Path], on: date | None) -> TraySheet:
    """A sheet from three JSON files."""
    child = msgspec.json.decode(files[0].read_bytes(), type=Child)
    tray = msgspec.json.decode(files[1].read_bytes(), type=Tray)
    answer = msgspec.json.decode(files[2].read_bytes(), type=Answer)
    return TraySheet(child=child, answer=answer, tray=tray, on=on or answer.assess_on)


def invented_sheet() -> TraySheet:
    """The four-month-old of the drawing tests."""
    sys.path.insert(0, str(ROOT))
    from tests.unit.paper import invented

    return TraySheet(
        child=invented.ODILE,
        answer=invented.ODILE_ANSWER,
        tray=invented.ODILE_TRAY,
        on=invented.ON,
    )


def board_picture() -> dict[str, bytes]:
    """The invented day."""
    from tests.unit.paper import invented

    return {"day-board": day_sheet_png(invented.BOARD, pixels_per_inch=PIXELS_PER_INCH)[0]}


def sheet_pictures(sheet: TraySheet) -> dict[str, bytes]:
    """Name -> PNG of everything one child's tray gives."""
    pages = tray_sheets_png([sheet], pixels_per_inch=PIXELS_PER_INCH)
    marks = [Mark(p.n, p.site, p.position, p.route) for p in sheet.tray.tray]
    figure = figure_for(age_on(sheet.child.born, sheet.on))
    parent = parent_sheet_png(
        sheet.child, sheet.tray.tray, sheet.answer, sheet.on, pixels_per_inch=PIXELS_PER_INCH
    )
    pictures = {
        "tray-sheet": pages[0],
        "body-map": render_svg_png(body_map_svg(figure, marks, font_family=BODY_FONT)),
        "parent-sheet": parent[0],
    }
    if sheet.tray.tray:
        pictures["labels"] = pages[-1]
    return pictures


if __name__ == "__main__":
    main()
