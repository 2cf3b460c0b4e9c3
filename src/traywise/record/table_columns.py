"""The columns of one table made ready for reading: order of day and month, and units."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from traywise.errors import Fault
from traywise.record.cell_dates import ORDERS, find_order, is_serial
from traywise.record.columns import Head
from traywise.record.table_text import Line

DATE_FIELDS = frozenset({"born", "weighed_on", "assess_on", "on", "expires"})


class TableColumns(msgspec.Struct, kw_only=True):
    """Heads of a table with what the data say about them.

    orders         order of day and month by column number; absent where none is needed
    unreadable     column number -> fault: the order is open, so no cell of it is read
    unclear        column number -> fault: it may hold doses, but is not understood
    how            column number -> what was taken for granted, for the Mapping
    unit_warnings  one for each column of measures whose unit stands nowhere
    """

    name: str
    heads: tuple[Head, ...]
    orders: dict[int, str] = {}
    unreadable: dict[int, Fault] = {}
    unclear: dict[int, Fault] = {}
    how: dict[int, str] = {}
    faults: list[Fault] = []
    unit_warnings: list[Fault] = []

    def head_of(self, field: str) -> Head | None:
        """The column of a field that occurs once."""
        for head in self.heads:
            if head.field == field and head.of != "vaccine":
                return head
        return None

    def warn_of_unit(self, head: Head, unit: str) -> None:
        """A measure without a unit, told once a column."""
        at = f"{self.name}, column {head.text}"
        if not any(fault.at == at for fault in self.unit_warnings):
            text = f'No unit is written; {unit} was taken. Name the column "{head.text} ({unit})".'
            self.unit_warnings.append(Fault("record.W104", at, text))


def find_orders(
    name: str, heads: tuple[Head, ...], rows: Sequence[Line], stated: str | None
) -> TableColumns:
    """The columns with the order of their dates; ``stated`` decides where the data do not."""
    columns = TableColumns(name=name, heads=heads)
    vaccines = [head for head in heads if head.of == "vaccine"]
    groups = [[head] for head in heads if head.field in DATE_FIELDS and head.of != "vaccine"]
    if vaccines:
        groups.append(vaccines)  # columns of one kind, filled by one hand: they share an order
    for group in groups:
        _find_order_of(columns, group, rows, stated)
    return columns


def _find_order_of(
    columns: TableColumns, group: Sequence[Head], rows: Sequence[Line], stated: str | None
) -> None:
    cells = [cell for row in rows for head in group if (cell := _cell(row, head))]
    order, how = find_order(cells)
    in_heads = next((head.order for head in group if head.order), None)
    said = stated if stated in ORDERS else in_heads
    if order is None and said:
        order, how = said, f"order {said} as stated"
    elif stated in ("dmy", "mdy") and order not in (stated, "any"):
        order, how = None, f"{how}, but {stated} was stated"
    for head in group:
        if order is None:
            columns.unreadable[head.number] = _ask_for_order(columns, group, how)
        elif order != "any":
            columns.orders[head.number] = order
            columns.how[head.number] = how
    if any(is_serial(cell) for cell in cells):
        for head in group:
            columns.how[head.number] = "day numbers of a spreadsheet, counted from 1899-12-30"
        text = (
            "Day numbers of a spreadsheet were read as dates, counted from 1899-12-30. "
            "Compare one of them with the record."
        )
        columns.faults.append(Fault("record.W103", _at(columns, group), text))


def _at(columns: TableColumns, group: Sequence[Head]) -> str:
    return f"{columns.name}, column {group[0].text}" + (" and others" if len(group) > 1 else "")


def _ask_for_order(columns: TableColumns, group: Sequence[Head], why: str) -> Fault:
    text = (
        f"{why}. Say whether day or month comes first (date order dmy or mdy), or write YYYY-MM-DD."
    )
    fault = Fault("record.E104", _at(columns, group), text)
    if fault not in columns.faults:
        columns.faults.append(fault)
    return fault


def _cell(row: Line, head: Head) -> str:
    return row.cells[head.number - 1] if head.number <= len(row.cells) else ""
