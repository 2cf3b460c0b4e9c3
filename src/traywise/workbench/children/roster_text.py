"""The text of a dropped file: which reader it needs, and mending one cell or entry of it."""

from __future__ import annotations

import csv
import io
import re
from typing import NamedTuple

from traywise.exchange import read_any
from traywise.record.json_text import split_json
from traywise.record.result import ReadResult
from traywise.record.table_text import find_separator

_PLACE = re.compile(r", line (?P<line>\d+)(?:, column (?P<column>.+))?$")
_LINE = re.compile(r", line (\d+)")


class Cell(NamedTuple):
    """Where a fault of a table lies, and what stands there."""

    line: int
    column: int
    head: str
    value: str


def is_table(text: str) -> bool:
    """Whether the text is a table, whose faults lie in cells."""
    return text.lstrip()[:1] not in ("{", "[", "<")


def is_lines_of_json(text: str) -> bool:
    """Whether the text is our own JSON, whose entries can be mended one by one."""
    return not is_table(text) and text.lstrip()[:1] != "<" and '"resourceType"' not in text[:20_000]


def read_roster(text: str, name: str, date_order: str) -> ReadResult:
    """All children of the file, each with its faults."""
    return read_any(text, name, date_order=date_order or None)


def line_of(at: str) -> int:
    """The line a place names; 0 when it names none.

    >>> line_of("roster.csv, line 14, column born")
    14
    """
    found = _LINE.search(at)
    return int(found[1]) if found else 0


def cell_at(text: str, at: str) -> Cell | None:
    """The cell a fault of a table points at; None when it points at no single cell."""
    place = _PLACE.search(at)
    if place is None or place["column"] is None or not is_table(text):
        return None
    rows = _rows(text)
    line = int(place["line"])
    heads = next((cells for _, cells in rows if place["column"] in _stripped(cells)), None)
    if heads is None:
        return None
    column = _stripped(heads).index(place["column"])
    for start, cells in rows:
        if start == line:
            return Cell(line, column, place["column"], cells[column] if column < len(cells) else "")
    return None


def mend_cell(text: str, line: int, column: int, value: str) -> str:
    """The text with one cell replaced; everything else stays as it was typed."""
    rows = _rows(text)
    if column >= max((len(cells) for _, cells in rows), default=0):
        return text  # no such column: nothing to mend
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=find_separator(text), lineterminator="\n")
    for start, cells in rows:
        if start == line:
            cells = cells + [""] * (column + 1 - len(cells))
            cells[column] = value
        # One written line for each line read, so that the places of other faults stay true.
        writer.writerow(cells)
    return out.getvalue()


def entry_text(text: str, line: int) -> str:
    """The JSON of the entry that begins on a line."""
    start, end = _entry_span(text, line)
    return text[start:end]


def mend_entry(text: str, line: int, entry: str) -> str:
    """The text with one JSON entry replaced by what was typed."""
    try:
        start, end = _entry_span(text, line)
    except KeyError:
        return text  # the entry is gone, mended by somebody else
    kept_lines = text[start:end].count("\n")
    new = entry.strip().replace("\r\n", "\n")
    # The same number of lines, so that the entries after it keep their places.
    if new.count("\n") != kept_lines:
        new = " ".join(new.split("\n")) + "\n" * kept_lines
    return text[:start] + new + text[end:]


def _entry_span(text: str, line: int) -> tuple[int, int]:
    pieces = [piece for piece in split_json(text, "roster") if piece.line == line]
    if not pieces:
        raise KeyError(line)
    start, end = pieces[0].start, pieces[0].end
    if end is None:  # broken: its line is shown
        newline = text.find("\n", start)
        end = newline if newline >= 0 else len(text)
    return start, end


def _rows(text: str) -> list[tuple[int, list[str]]]:
    """Each record with the line it starts on."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=find_separator(text))
    rows, start = [], 1
    for cells in reader:
        rows.append((start, cells))
        start = reader.line_num + 1
    return rows


def _stripped(cells: list[str]) -> list[str]:
    return [cell.strip().removeprefix("\ufeff") for cell in cells]
