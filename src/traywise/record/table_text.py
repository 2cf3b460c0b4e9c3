"""Table text to rows of cells: separator found in the data, each row with its line number."""

from __future__ import annotations

import csv
import io

import msgspec

from traywise.errors import Fault

SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}


class Line(msgspec.Struct, frozen=True):
    """One row: the line it starts on, and its cells without blanks around them."""

    number: int
    cells: tuple[str, ...]


def find_separator(text: str) -> str:
    """The separator that most lines of the beginning agree on; comma when none is there.

    >>> find_separator("id;weight\\na;6,4\\n")
    ';'
    """
    lines = [line for line in text[:20_000].splitlines()[:20] if line.strip()]
    if lines and lines[0].casefold().startswith("sep=") and len(lines[0]) == 5:
        return lines[0][4]  # a spreadsheet's own mark
    best, best_score = ",", 0.0
    for separator in SEPARATORS:
        counts: list[int] = [_count_outside_quotes(line, separator) for line in lines]
        if any(counts):
            # Agreement weighs more than number: decimal commas differ from line to line.
            common = max(set(counts), key=counts.count)
            score = counts.count(common) / len(counts) * 100 + min(common, 99) if common else 0
            if score > best_score:
                best, best_score = separator, score
    return best


def _count_outside_quotes(line: str, separator: str) -> int:
    return sum(part.count(separator) for part in line.split('"')[::2])


def split_table(table: str, name: str) -> tuple[list[Line], str, list[Fault]]:
    """Rows that hold anything, the separator, and the fault where reading had to stop."""
    separator = find_separator(table)
    rows: list[Line] = []
    faults: list[Fault] = []
    reader = csv.reader(io.StringIO(table, newline=""), delimiter=separator, strict=True)
    start = 1
    try:
        for cells in reader:
            row = tuple(cell.strip() for cell in cells)
            if any(row) and not (start == 1 and table.casefold().startswith("sep=")):
                rows.append(Line(start, row))
            start = reader.line_num + 1
    except csv.Error as error:
        remedy = "Close the quotes here, or take them out. The lines below were not read."
        faults.append(
            Fault("record.E111", f"{name}, line {start}", f"Not a table: {error}. {remedy}")
        )
    return rows, separator, faults
