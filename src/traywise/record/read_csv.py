"""Reads children from tables: a roster of children, doses in a second file, one dose a line,
or one column a dose.

What the columns hold is found from their heads and returned as a ``Mapping`` to be
shown. One fault for each wrong cell, with file, line and column; the line's child is set
aside, the others are read.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from traywise.errors import Fault
from traywise.record.cell_dates import looks_like_date
from traywise.record.columns import Head, find_heads, read_heads, speaks_of_vaccine
from traywise.record.decode_text import decode_text
from traywise.record.result import Column, Mapping, ReadResult
from traywise.record.table_columns import TableColumns, find_orders
from traywise.record.table_rows import Draft, RowReader
from traywise.record.table_text import SEPARATORS, Line, split_table

# Faults after which rows of a table were not read.
UNREAD = frozenset(
    {"record.E001", "record.E005", "record.E101", "record.E102", "record.E103", "record.E111"}
)


def read_table(
    data: bytes | str,
    name: str,
    *,
    doses: tuple[bytes | str, str] | None = None,
    date_order: str | None = None,
    day: date | None = None,
    today: date | None = None,
) -> ReadResult:
    """All children of a table.

    doses       a second table with one dose a line, and its name
    date_order  "dmy" or "mdy" where the data leave it open; None to find it out
    day, today  as for read_children

    >>> table = "id,born,DTaP 1,DTaP 2\\na,2026-01-05,2026-03-05,2026-05-07\\n"
    >>> [dose.cvx for dose in read_table(table, "roster.csv").children[0].doses]
    ['107', '107']
    """
    today = today or date.today()
    reader = _TableReader(date_order)
    reader.read(data, name, is_doses=False)
    if doses is not None:
        reader.read(doses[0], doses[1], is_doses=True)
    return ReadResult(
        entries=tuple(draft.finish(day or today, today) for draft in reader.in_order),
        faults=tuple(reader.faults),
        mappings=tuple(reader.mappings),
    )


class _TableReader:
    """Collects the drafts of children over one or two tables."""

    def __init__(self, date_order: str | None):
        self.date_order = date_order
        self.drafts: dict[str, Draft] = {}
        self.in_order: list[Draft] = []  # lines that belong to no child included
        self.faults: list[Fault] = []
        self.mappings: list[Mapping] = []

    def read(self, data: bytes | str, name: str, *, is_doses: bool) -> None:
        """One table into the drafts."""
        before = len(self.faults)
        layout = self._read_table(data, name, is_doses=is_doses)
        if is_doses or layout in ("one line a dose", "doses"):
            self._set_aside_incomplete(self.faults[before:])

    def _set_aside_incomplete(self, faults: Sequence[Fault]) -> None:
        """Lines that were not read may hold doses of any child: nobody's history is whole."""
        for fault in faults:
            if fault.code in UNREAD:
                for draft in self.in_order:
                    draft.faults.append(fault)

    def _read_table(self, data: bytes | str, name: str, *, is_doses: bool) -> str | None:
        """The layout of the table, None when it was not found."""
        text, faults = decode_text(data, name, old_windows=True)
        self.faults += faults
        if text is None:
            return None
        rows, separator, faults = split_table(text, name)
        self.faults += faults
        start = find_heads([row.cells for row in rows])
        if start is None:
            self._report_no_heads(rows, name)
            return None
        heads = read_heads(rows[start].cells)
        layout = find_layout(heads)
        faults = _check_heads(heads, layout, name, rows[start].number, is_doses)
        self.faults += faults
        at = f"{name}, line {rows[start].number}"
        if faults:
            self._add_mapping(name, layout, separator, heads, {})
            return layout
        self._read_body(rows[start + 1 :], heads, layout, separator, at)
        return layout

    def _read_body(
        self, rows: Sequence[Line], heads: tuple[Head, ...], layout: str, separator: str, at: str
    ) -> None:
        name = at.rpartition(", line")[0]
        if not rows and layout != "doses" and not any(one.is_error for one in self.faults):
            text = "Under the names of the columns stands no line. Give at least one child."
            self.faults.append(Fault("record.E005", at, text))
        columns = find_orders(name, heads, rows, self.date_order)
        self.faults += columns.faults
        columns.unclear = _find_unclear(heads, rows, at)
        self.faults += [*columns.unclear.values(), *_check_unused(heads, columns.unclear, at)]
        self._add_mapping(name, layout, separator, heads, columns.how)
        self._read_rows(rows, columns, layout)
        self.faults += columns.unit_warnings

    def _report_no_heads(self, rows: Sequence[Line], name: str) -> None:
        code, text = (
            "record.E101",
            (
                "No line with the names of the columns was found. Give the table a first line: "
                '"id,born,sex,weight_kg".'
            ),
        )
        if not rows:
            code, text = "record.E005", "The file is empty. Give it at least one child."
        self.faults.append(Fault(code, name, text))

    def _add_mapping(
        self, name: str, layout: str, separator: str, heads: Sequence[Head], how: dict[int, str]
    ) -> None:
        columns = tuple(
            Column(
                number=head.number,
                header=head.text,
                field=_field_text(head),
                how=how.get(head.number, head.unit or ""),
            )
            for head in heads
        )
        delimiter = SEPARATORS.get(separator, separator)
        self.mappings.append(
            Mapping(file=name, layout=layout, delimiter=delimiter, columns=columns)
        )

    def _read_rows(self, rows: Sequence[Line], columns: TableColumns, layout: str) -> None:
        reader = RowReader(columns, layout)
        for row in rows:
            child_id = reader.child_id(row)
            draft = self.drafts.get(child_id) if child_id else None
            if draft is None:
                draft = Draft(id=child_id, at=f"{columns.name}, line {row.number}")
                self.in_order.append(draft)
                if child_id is None:
                    reader.report_no_id(row, draft)
                    continue
                if layout == "doses":
                    reader.report_unknown_child(row, draft)
                    continue
                self.drafts[child_id] = draft
                reader.read_child(row, draft)
            elif layout in ("children", "one column a dose"):
                reader.report_second(row, draft)
                continue
            elif layout == "one line a dose":
                reader.compare_child(row, draft)
            reader.read_doses(row, draft)


def find_layout(heads: Sequence[Head]) -> str:
    """Which of the four layouts the heads speak of."""
    fields = {head.field for head in heads if head.field}
    if any(head.of == "vaccine" for head in heads):
        return "one column a dose"
    if {"on", "cvx"} <= fields:
        return "one line a dose" if "born" in fields else "doses"
    return "children"


def _field_text(head: Head) -> str | None:
    return f"dose given, CVX {head.cvx}" if head.of == "vaccine" else head.field


def _check_heads(
    heads: Sequence[Head], layout: str, name: str, line: int, is_doses: bool
) -> list[Fault]:
    """Columns that are missing, stand twice, or are not used."""
    at = f"{name}, line {line}"
    fields = [head.field for head in heads if head.field and head.of != "vaccine"]
    needed = ("id", "on", "cvx") if layout == "doses" or is_doses else ("id", "born")
    faults = [
        Fault("record.E102", at, f'No column holds "{field}". Add one, or name it "{field}".')
        for field in needed
        if field not in fields
    ]
    if layout == "doses" and not is_doses and not faults:
        text = 'These are doses without children. Give the table of children too, or add "born".'
        faults.append(Fault("record.E102", at, text))
    for field in dict.fromkeys(fields):
        if fields.count(field) > 1:
            both = " and ".join(f'"{head.text}"' for head in heads if head.field == field)
            text = f'{both} both seem to hold "{field}". Rename the one that does not.'
            faults.append(Fault("record.E103", at, text))
    return faults


def _find_unclear(heads: Sequence[Head], rows: Sequence[Line], at: str) -> dict[int, Fault]:
    """Columns that seem to hold doses but cannot be understood: no dose may be passed over."""
    faults: dict[int, Fault] = {}
    for head in heads:
        if head.field is not None or not speaks_of_vaccine(head.text):
            continue
        cells = (row.cells[head.number - 1] for row in rows if head.number <= len(row.cells))
        if any(looks_like_date(cell) for cell in cells):
            text = (
                f'"{head.text}" names a vaccine and holds dates, but what it means is not clear. '
                'Name it by vaccine and dose, such as "HepB 1", or take the vaccine\'s name out.'
            )
            faults[head.number] = Fault("record.E112", f"{at}, column {head.text}", text)
    return faults


def _check_unused(heads: Sequence[Head], unclear: dict[int, Fault], at: str) -> list[Fault]:
    """A warning that names the columns nobody uses."""
    unused = [
        f'"{head.text}"'
        for head in heads
        if head.field is None and head.text and head.number not in unclear
    ]
    return [Fault("record.W101", at, f"Not used: {', '.join(unused)}.")] if unused else []
