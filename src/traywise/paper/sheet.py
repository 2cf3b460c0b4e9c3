"""The printed tray: one child or a whole session, as PDF.

Comes in: child, answer, tray, day. Goes out: PDF bytes with the sheet and a page of labels for
each child. Nothing clinical is decided here; what the tray does not know the sheet says.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from traywise.paper.sheet_data import TraySheet, sheet_data
from traywise.paper.typesetting import Paper, render_pdf, render_png
from traywise.paper.wording import CARE
from traywise.record.child import Child
from traywise.schedule.answer import Answer
from traywise.tray.plan import Tray

TEMPLATE = "sheet.typ"


def tray_sheet_pdf(
    child: Child,
    answer: Answer,
    tray: Tray,
    on: date,
    *,
    paper: Paper = "a4",
    gtins: Mapping[str, str] | None = None,
) -> bytes:
    """The sheet and labels of one child.

    on     the day of the visit
    paper  a4, a5 or us-letter; ValueError for any other
    gtins  lot -> GTIN where the shelf knows it; only then do labels carry a GS1 code
    """
    sheet = TraySheet(child=child, answer=answer, tray=tray, on=on, gtins=dict(gtins or {}))
    return tray_sheets_pdf([sheet], paper=paper)


def tray_sheets_pdf(sheets: Sequence[TraySheet], *, paper: Paper = "a4") -> bytes:
    """All sheets of a session in one PDF, each child's pages numbered on their own."""
    return render_pdf(TEMPLATE, document_data(sheets), paper)


def tray_sheets_png(
    sheets: Sequence[TraySheet], *, paper: Paper = "a4", pixels_per_inch: int = 110
) -> list[bytes]:
    """The same pages as pictures."""
    return render_png(TEMPLATE, document_data(sheets), paper, pixels_per_inch)


def document_data(sheets: Sequence[TraySheet]) -> dict[str, Any]:
    """What the template reads: the sheets and the words on every page."""
    title = "Tray" if len(sheets) == 1 else f"{len(sheets)} trays"
    return {
        "title": f"{title}, {sheets[0].on.isoformat()}" if sheets else "No trays",
        "care": CARE,
        "sheets": [sheet_data(sheet, number) for number, sheet in enumerate(sheets, start=1)],
    }
