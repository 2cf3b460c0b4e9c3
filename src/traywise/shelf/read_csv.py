"""Reads a shelf from CSV: one lot, or one opened vial, a line.

A line with an error is set aside whole, or its lot is kept but not usable; nothing
is lost and the other lines are read. Columns the contract does not name are kept.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from datetime import date, tzinfo
from pathlib import Path

import msgspec

from traywise.errors import Fault
from traywise.record.decode_text import decode_text
from traywise.shelf.lot import Lot
from traywise.shelf.read_row import COLUMNS, OPTIONAL, RowReader

REQUIRED = ("lot", "cvx", "presentation", "doses", "expires")


class SetAside(msgspec.Struct, frozen=True, kw_only=True):
    """A line that gave no lot: where it stands and its cells, so that it can be mended."""

    at: str
    cells: dict[str, str]
    faults: tuple[Fault, ...]


class ShelfFile(msgspec.Struct, frozen=True, kw_only=True):
    """All that a shelf file gave.

    lots       in the order of the file, those that are not usable included
    faults     of the file and of every line
    set_aside  lines that gave no lot
    extra      names of the columns kept without being used
    """

    lots: tuple[Lot, ...] = ()
    faults: tuple[Fault, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
    extra: tuple[str, ...] = ()


def read_shelf(
    source: Path | bytes | str,
    name: str = "",
    *,
    on: date | None = None,
    zone: tzinfo | None = None,
) -> ShelfFile:
    """The shelf of a file (a path) or of its content (bytes or text).

    on    the day of the session: lots expired by then are warned about
    zone  the clinic's clock; None: the computer's own
    """
    if isinstance(source, Path):
        name = name or source.name
        try:
            source = source.read_bytes()
        except OSError as error:
            text = f"Cannot be read: {error.strerror}. Check the path."
            return ShelfFile(faults=(Fault("shelf.E001", name, text),))
    name = name or "shelf"
    content, found = decode_text(source, name, old_windows=True)
    faults = [
        Fault(fault.code.replace("record.", "shelf."), fault.at, fault.text) for fault in found
    ]
    if content is None:
        return ShelfFile(faults=tuple(faults))
    rows = _split(content.lstrip("\ufeff"))
    header = next(rows, (1, []))[1]
    columns, header_faults = _read_header(header, name)
    faults += header_faults
    if any(fault.is_error for fault in header_faults):
        aside = tuple(
            SetAside(at=f"{name}, line {number}", cells=_cells(cells, columns), faults=())
            for number, cells in rows
        )
        return ShelfFile(faults=tuple(faults), set_aside=aside)
    return _read_rows(rows, columns, faults, name, on, zone)


def _split(text: str) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of every line that is not blank."""
    first = text.lstrip("\r\n").partition("\n")[0]
    delimiter = max(",;\t|", key=lambda mark: (first.count(mark), mark == ","))
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    before = 0
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            # A cell beyond all size, as after an unclosed quotation mark: said, not dropped.
            cells = [f"not readable as CSV: {error}", "\n"]
        number, before = before + 1, reader.line_num
        # A line break inside a cell stays: it shows a quotation mark that was never closed.
        cells = [cell.strip(" \t\r\v\f\xa0") for cell in cells]
        if any(cells):
            yield number, cells


def _read_header(header: list[str], name: str) -> tuple[list[str], list[Fault]]:
    columns = [cell.lower().strip().replace(" ", "_") for cell in header]
    at = f"{name}, line 1"
    faults = []
    if not columns:
        faults.append(
            Fault("shelf.E001", name, f"The file is empty. Write a header: {', '.join(COLUMNS)}.")
        )
        return [], faults
    missing = [column for column in REQUIRED if column not in columns]
    if missing:
        faults.append(
            Fault(
                "shelf.E002",
                at,
                f"The header lacks {', '.join(missing)}. Write: {', '.join(COLUMNS)}. "
                "No line was read; all are kept aside.",
            )
        )
    twice = sorted({column for column in columns if column and columns.count(column) > 1})
    if twice:
        faults.append(
            Fault("shelf.E003", at, f"{', '.join(twice)} stands twice. Rename one of them.")
        )
    return columns, faults


def _cells(cells: list[str], columns: list[str]) -> dict[str, str]:
    """Cells by column; cells beyond the header are kept under their number."""
    names = columns + [f"column {number}" for number in range(len(columns) + 1, len(cells) + 1)]
    return {
        (name or f"column {number}"): cell
        for number, (name, cell) in enumerate(zip(names, cells, strict=False), start=1)
    }


def _read_rows(
    rows: Iterator[tuple[int, list[str]]],
    columns: list[str],
    faults: list[Fault],
    name: str,
    on: date | None,
    zone: tzinfo | None,
) -> ShelfFile:
    lots: list[Lot] = []
    aside: list[SetAside] = []
    seen: dict[tuple[str, ...], str] = {}
    for number, cells in rows:
        at = f"{name}, line {number}"
        values = _cells(cells, columns)
        row = RowReader(values, at, on, zone)
        lot = row.read(len(cells) > len(columns))
        if lot is not None and lot.key in seen:
            row.fault(
                "shelf.E011",
                "lot",
                f"Lot {lot.lot} stands already in {seen[lot.key]}, same unit and funding. "
                "Add the doses up in one line. This line is set aside.",
            )
            lot = None
        faults += row.faults
        if lot is None:
            aside.append(SetAside(at=at, cells=values, faults=tuple(row.faults)))
        else:
            seen[lot.key] = at
            lots.append(lot)
    known = {*COLUMNS, *OPTIONAL}
    return ShelfFile(
        lots=tuple(lots),
        faults=tuple(faults),
        set_aside=tuple(aside),
        extra=tuple(column for column in columns if column and column not in known),
    )
