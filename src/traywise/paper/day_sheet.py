"""The day on paper: board, pick list and supplies of one session, as PDF."""

from __future__ import annotations

from typing import Any

from traywise.paper.day_board import BoardRow, DayBoard, dose_tail
from traywise.paper.typesetting import Paper, render_pdf, render_png
from traywise.paper.wording import CARE, day, day_with_weekday, plain, supply_words

TEMPLATE = "day.typ"


def day_sheet_pdf(board: DayBoard, *, paper: Paper = "a4") -> bytes:
    """The board as PDF. ``paper``: a4, a5 or us-letter; ValueError for any other."""
    return render_pdf(TEMPLATE, board_data(board), paper)


def day_sheet_png(
    board: DayBoard, *, paper: Paper = "a4", pixels_per_inch: int = 110
) -> list[bytes]:
    """The same pages as pictures."""
    return render_png(TEMPLATE, board_data(board), paper, pixels_per_inch)


def board_data(board: DayBoard) -> dict[str, Any]:
    """What ``day.typ`` prints."""
    return {
        "title": plain(f"{board.title}, {board.on.isoformat()}"),
        "session": plain(board.title),
        "answer": plain(board.answer),
        "when": day_with_weekday(board.on),
        "edition": f"schedule {board.edition}",
        "care": CARE,
        "figures": [[plain(value), plain(words)] for value, words in board.figures],
        "rows": [_row(row) for row in board.rows],
        "picks": [
            {
                "unit": plain(pick.unit),
                "what": plain(pick.what),
                "lot": plain(pick.lot),
                "count": pick.count,
                "expires": day(pick.expires),
                "note": plain(pick.note),
            }
            for pick in board.picks
        ],
        "supplies": [[supply.count, plain(supply_words(supply))] for supply in board.supplies],
        "preparations": [
            [plain(step.time), plain(step.what), plain(step.use_by), plain(step.note)]
            for step in board.preparations
        ],
        "not_served": [
            {
                "name": plain(missed.name),
                "groups": ", ".join(missed.groups),
                "why": plain(missed.why),
                "change": plain(missed.change),
            }
            for missed in board.not_served
        ],
        "watch": [[item.shape, plain(item.text), plain(item.action)] for item in board.watch],
    }


def _row(row: BoardRow) -> dict[str, Any]:
    return {
        "time": plain(row.time),
        "name": plain(row.name),
        "about": plain(row.about),
        "doses": [
            {"name": plain(d.name), "needle_mm": d.needle_mm, "words": dose_tail(d)}
            for d in row.doses
        ],
        "shape": row.shape,
        "word": plain(row.word),
        "note": plain(row.note),
    }
