"""Renders the pictures of the README from the demo: sheet, labels, body map, board, reach.

python tools/make_pictures.py [FOLDER]    pictures go to docs/pictures, or to FOLDER
"""

from __future__ import annotations

import sys
from pathlib import Path

import msgspec

from traywise.calendar import age_on
from traywise.demo.load import DEMO_DAY, demo_children, demo_shelf, demo_supplies
from traywise.paper.body_map import Mark, body_map_svg
from traywise.paper.day_sheet import day_sheet_png
from traywise.paper.figures import figure_for
from traywise.paper.parent_sheet import parent_sheet_png
from traywise.paper.reach_picture import draw_reach_sheet
from traywise.paper.session_board import board_of
from traywise.paper.sheet import tray_sheets_png
from traywise.paper.sheet_data import TraySheet
from traywise.paper.typesetting import BODY_FONT, render_svg_png
from traywise.record.child import Child, CvxCode, DoseGiven
from traywise.schedule.answer import Answer
from traywise.screening.answer_for import answer_for
from traywise.session.day import SessionDay, plan_day
from traywise.tray.compose import Visit

ROOT = Path(__file__).resolve().parent.parent
PIXELS_PER_INCH = 120
INFANT = "demo-03"  # four months old, four places and more


def main() -> None:
    """Plan the demo, render, say what was written."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs" / "pictures"
    folder.mkdir(parents=True, exist_ok=True)
    day = plan_day(demo_children(), DEMO_DAY, demo_shelf(), demo_supplies())
    pictures = {
        "day-board": day_sheet_png(board_of(day), pixels_per_inch=PIXELS_PER_INCH)[0],
        "reach": render_svg_png(draw_reach_sheet("thigh", 4.4, 6.4, 25, 90)),
        **child_pictures(day),
    }
    for name, png in pictures.items():
        path = folder / f"{name}.png"
        path.write_bytes(png)
        print(path)


def child_pictures(day: SessionDay) -> dict[str, bytes]:
    """Everything one child's tray gives."""
    number = next(i for i, child in enumerate(day.children) if child.id == INFANT)
    child, visit = day.children[number], day.visits[number]
    sheet = TraySheet(child=child, answer=visit.answer, tray=visit.tray, on=day.on)
    pages = tray_sheets_png([sheet], pixels_per_inch=PIXELS_PER_INCH)
    places = visit.tray.tray
    marks = [Mark(p.n, p.site, p.position, p.route) for p in places]
    figure = figure_for(age_on(child.born, day.on))
    parent = parent_sheet_png(
        child, places, after(child, visit, day), day.on, pixels_per_inch=PIXELS_PER_INCH
    )
    return {
        "tray-sheet": pages[0],
        "labels": pages[-1],
        "body-map": render_svg_png(body_map_svg(figure, marks, font_family=BODY_FONT)),
        "parent-sheet": parent[0],
    }


def after(child: Child, visit: Visit, day: SessionDay) -> Answer:
    """The answer once every dose of the tray is given."""
    given = {place.lot: place.cvx for place in visit.tray.tray}
    doses = tuple(DoseGiven(on=day.on, cvx=CvxCode(cvx)) for cvx in given.values())
    recorded = msgspec.structs.replace(child, doses=(*child.doses, *doses))
    return answer_for(recorded, day.edition, day.on)


if __name__ == "__main__":
    main()
