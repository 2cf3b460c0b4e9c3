"""Files of a planned session: tables for a spreadsheet, sheets and labels for the printer."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

from traywise.cli.output import writing
from traywise.paper.session_board import board_of
from traywise.session.day import SessionDay

# Never the name of a file that a clinic keeps: its supplies.csv may lie in the same folder.
CSV_FILES = ("trays.csv", "pick-list.csv", "count-out.csv", "mix-and-open.csv", "not-served.csv")
PDF_FILES = ("day.pdf", "trays.pdf")


def write_csv_files(day: SessionDay, folder: Path) -> list[Path]:
    """CSV_FILES in a folder that is there."""
    return [
        _table(folder / "trays.csv", _TRAY_HEAD, _tray_rows(day)),
        _table(
            folder / "pick-list.csv",
            ("unit", "vaccine", "lot", "presentation", "expires", "doses", "containers", "diluent"),
            (
                (
                    p.unit,
                    p.vaccine,
                    p.lot,
                    p.presentation,
                    p.expires,
                    p.doses,
                    p.containers,
                    p.diluent,
                )
                for p in day.plan.pick_list
            ),
        ),
        _table(
            folder / "count-out.csv",
            ("item", "gauge", "length_mm", "volume_ml", "count", "expires"),
            (
                (s.item, s.gauge, s.length_mm, s.volume_ml, s.count, s.expires)
                for s in board_of(day).supplies
            ),
        ),
        _table(
            folder / "mix-and-open.csv",
            ("at", "what", "vaccine", "lot", "unit", "use_by", "doses", "children"),
            (
                (
                    *(step.at.isoformat(), step.what, step.vaccine, step.lot, step.unit),
                    *(step.use_by.isoformat(), step.doses, " ".join(step.children)),
                )
                for step in day.plan.timeline
            ),
        ),
        _table(
            folder / "not-served.csv",
            ("child", "group", "why", "until", "would_serve"),
            (
                (visit.answer.id, item.group, item.why, item.until, " ".join(item.would_serve))
                for visit in day.visits
                for item in visit.tray.not_today
            ),
        ),
    ]


_TRAY_HEAD = (
    *("time", "child", "name", "place", "vaccine", "cvx", "lot", "expires", "route", "volume_ml"),
    *("site", "position", "gauge", "length_mm", "groups"),
)


def _tray_rows(day: SessionDay) -> Iterable[Sequence[object]]:
    for planned, child, visit in zip(day.plan.visits, day.children, day.visits, strict=True):
        for place in visit.tray.tray:
            needle = place.needle
            yield (
                *(f"{planned.at:%H:%M}", child.id, child.name, place.n, place.vaccine, place.cvx),
                *(place.lot, place.expires, place.route, place.volume_ml, place.site),
                *(place.position, needle.gauge if needle else None),
                *(needle.length_mm if needle else None, " ".join(place.groups)),
            )


def _table(path: Path, head: Sequence[str], rows: Iterable[Sequence[object]]) -> Path:
    with writing(path), path.open("w", newline="", encoding="utf-8") as handle:
        writer = csv.writer(handle)
        writer.writerow(head)
        for row in rows:
            writer.writerow(["" if cell is None else _plain(str(cell)) for cell in row])
    return path


def _plain(cell: str) -> str:
    """A cell that a spreadsheet will not take for a formula."""
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t", "\r") else cell


def write_pdf_files(day: SessionDay, folder: Path) -> list[Path]:
    """day.pdf, the board; trays.pdf, every child's sheet with its labels."""
    # Imported late: typesetting is for those who print.
    from traywise.paper.day_sheet import day_sheet_pdf
    from traywise.paper.sheet import tray_sheets_pdf
    from traywise.paper.sheet_data import TraySheet

    board, trays = (folder / name for name in PDF_FILES)
    with writing(board):
        board.write_bytes(day_sheet_pdf(board_of(day)))
    gtins = {lot.lot: lot.extra["gtin"] for lot in day.session.shelf if lot.extra.get("gtin")}
    sheets = tray_sheets_pdf(
        [
            TraySheet(child=child, answer=visit.answer, tray=visit.tray, on=day.on, gtins=gtins)
            for child, visit in zip(day.children, day.visits, strict=True)
        ]
    )
    with writing(trays):
        trays.write_bytes(sheets)
    return [board, trays]
