"""Rows of a table to children: each cell by the field of its column."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from traywise.errors import Fault
from traywise.record.cell_dates import looks_like_date, read_cell_date, strip_time
from traywise.record.cell_values import (
    is_unknown,
    read_clock,
    read_gestation,
    read_measure,
    read_sex_word,
    read_vaccine,
    read_yes_no,
    split_list,
)
from traywise.record.child import Child, Condition, CvxCode, DoseGiven
from traywise.record.columns import Head
from traywise.record.plausible import check_child
from traywise.record.result import Entry
from traywise.record.table_columns import DATE_FIELDS, TableColumns
from traywise.record.table_text import Line
from traywise.record.values import (
    BadValue,
    read_condition,
    read_expiry,
    read_route,
    read_site,
)

WORDS: dict[str, Callable[[str], Any]] = {
    "sex": read_sex_word,
    "gestation_weeks": read_gestation,
    "cvx": read_vaccine,
    "route": read_route,
    "site": read_site,
    "full": read_yes_no,
    "campaign": read_yes_no,
    "appointment": read_clock,
}
MEASURES = {
    "weight_kg": ("weight", "kg"),
    "birth_weight_g": ("weight", "g"),
    "height_cm": ("length", "cm"),
    "volume_ml": ("volume", "ml"),
}


class Draft:
    """A child while its rows are read: values, where each stood, and the faults."""

    def __init__(self, id: str | None, at: str):
        self.id, self.at = id, at
        self.values: dict[str, Any] = {}
        self.doses: list[DoseGiven] = []
        self.places: dict[str, str] = {}
        self.dose_places: list[dict[str, str]] = []
        self.faults: list[Fault] = []

    def as_set_aside(self) -> Entry:
        """The entry without a child."""
        return Entry(id=self.id, at=self.at, child=None, faults=tuple(self.faults))

    def finish(self, day: date, today: date) -> Entry:
        """The entry: the child checked for plausibility, or set aside."""
        if "born" not in self.values:
            if not any(fault.is_error for fault in self.faults):
                text = "The date of birth is missing. Add it."
                self.faults.append(Fault("record.E012", self.at, text))
            return self.as_set_aside()
        child = Child(id=self.id or "", doses=tuple(self.doses), **_join_names(self.values))
        for path, code, text in check_child(child, day=child.assess_on or day, today=today):
            self.faults.append(Fault(code, self._place(path), text))
        if any(fault.is_error for fault in self.faults):
            return self.as_set_aside()
        return Entry(id=self.id, at=self.at, child=child, faults=tuple(self.faults))

    def _place(self, path: tuple[str | int, ...]) -> str:
        if path[0] == "doses" and isinstance(path[1], int):
            places = self.dose_places[path[1]]
            return places.get(str(path[-1]), places["on"])
        return self.places.get(str(path[0]), self.at)


def _join_names(values: dict[str, Any]) -> dict[str, Any]:
    """The values with first and last name as one, unless a whole name is given."""
    parts = [values[part] for part in ("first_name", "last_name") if part in values]
    kept = {key: value for key, value in values.items() if key not in ("first_name", "last_name")}
    return {"name": " ".join(parts), **kept} if parts else kept


class RowReader:
    """Reads rows of one table into drafts."""

    def __init__(self, columns: TableColumns, layout: str):
        self.columns, self.layout = columns, layout
        heads = columns.heads
        self.child_heads = [head for head in heads if head.of == "child" and head.field != "id"]
        self.dose_heads = [head for head in heads if head.of == "dose"]
        self.vaccine_heads = [head for head in heads if head.of == "vaccine"]
        self.id_head = columns.head_of("id")

    def _at(self, row: Line, head: Head | None = None) -> str:
        at = f"{self.columns.name}, line {row.number}"
        return f"{at}, column {head.text}" if head else at

    def _cell(self, row: Line, head: Head) -> str:
        cell = row.cells[head.number - 1] if head.number <= len(row.cells) else ""
        return "" if is_unknown(cell) else cell

    def child_id(self, row: Line) -> str | None:
        """The id of the row's child, None when its cell is empty."""
        if self.id_head is None:
            return None
        return self._cell(row, self.id_head) or None

    def report_no_id(self, row: Line, draft: Draft) -> None:
        """A line that cannot be given to any child."""
        text = "The id is missing, so this line belongs to nobody. Add it."
        draft.faults.append(Fault("record.E010", self._at(row, self.id_head), text))

    def report_unknown_child(self, row: Line, draft: Draft) -> None:
        """A dose of a child that the table of children does not hold."""
        text = f'"{draft.id}" is not among the children. Add the child, or correct the id.'
        draft.faults.append(Fault("record.E108", self._at(row, self.id_head), text))

    def report_second(self, row: Line, draft: Draft) -> None:
        """A second line for one child where there should be one."""
        text = (
            f'"{draft.id}" stands in {draft.at} already. Give each child an id of its own, or '
            "merge the lines."
        )
        draft.faults.append(Fault("record.E011", self._at(row, self.id_head), text))

    def read_child(self, row: Line, draft: Draft) -> None:
        """The child's own columns."""
        spare = row.cells[len(self.columns.heads) :]
        if any(spare):
            text = "The line has more cells than the table has columns. Put such text in quotes."
            draft.faults.append(Fault("record.E110", self._at(row), text))
        for head in self.child_heads:
            value = self._read(row, head, draft)
            if value is not None and head.field:
                draft.values[head.field] = value
                draft.places[head.field] = self._at(row, head)

    def compare_child(self, row: Line, draft: Draft) -> None:
        """A later line of the child: its own columns must say the same, or nothing."""
        for head in self.child_heads:
            value = self._read(row, head, draft)
            if value is None or head.field is None:
                continue
            if head.field not in draft.values:
                draft.values[head.field] = value
                draft.places[head.field] = self._at(row, head)
            if draft.values[head.field] != value:
                place = draft.places.get(head.field, draft.at)
                text = f"{self._cell(row, head)} contradicts {place}. Make both lines say the same."
                draft.faults.append(Fault("record.E107", self._at(row, head), text))

    def read_doses(self, row: Line, draft: Draft) -> None:
        """The row's doses: one, or one for each filled column of a vaccine."""
        for number, fault in self.columns.unclear.items():
            filled = number <= len(row.cells) and looks_like_date(row.cells[number - 1])
            if filled and fault not in draft.faults:
                draft.faults.append(fault)
        if self.layout == "one column a dose":
            for head in self.vaccine_heads:
                on = self._read(row, head, draft)
                if on is not None and head.cvx is not None:
                    draft.doses.append(DoseGiven(on=on, cvx=CvxCode(head.cvx)))
                    draft.dose_places.append({"on": self._at(row, head)})
        elif self.layout in ("one line a dose", "doses"):
            self._read_dose(row, draft)

    def _read_dose(self, row: Line, draft: Draft) -> None:
        if not any(self._cell(row, head) for head in self.dose_heads):
            return  # a child without doses
        before = len(draft.faults)
        values: dict[str, Any] = {}
        places: dict[str, str] = {"on": self._at(row)}
        for head in self.dose_heads:
            value = self._read(row, head, draft)
            if value is not None and head.field:
                values[head.field] = value
                places[head.field] = self._at(row, head)
        missing = [field for field in ("on", "cvx") if field not in values]
        if missing and len(draft.faults) == before:
            text = f'The dose has no "{missing[0]}". Add it.'
            draft.faults.append(Fault("record.E030", self._at(row), text))
        if not missing:
            draft.doses.append(DoseGiven(**values))
            draft.dose_places.append(places)

    def _read(self, row: Line, head: Head, draft: Draft) -> Any:
        """The cell's value; None when it is empty or a fault was added."""
        cell = self._cell(row, head)
        if not cell or head.field is None:
            return None
        try:
            return self._read_cell(cell, head)
        except BadValue as bad:
            draft.faults.append(Fault(bad.code, self._at(row, head), bad.text))
        except _UnreadableColumn as column:
            if column.fault not in draft.faults:
                draft.faults.append(column.fault)
        return None

    def _read_cell(self, cell: str, head: Head) -> Any:
        field = head.field or ""
        if field in DATE_FIELDS:
            return self._read_date(cell, head)
        if field in MEASURES:
            kind, unit = MEASURES[field]
            value, written = read_measure(cell, kind, unit, head.unit)
            if not written:
                self.columns.warn_of_unit(head, unit)
            return round(value) if field == "birth_weight_g" else value
        if field == "conditions":
            return tuple(Condition(key=read_condition(item)) for item in split_list(cell))
        if field == "avoid":
            return tuple(read_site(item) for item in split_list(cell))
        reader = WORDS.get(field)
        return reader(cell) if reader else cell

    def _read_date(self, cell: str, head: Head) -> date:
        fault = self.columns.unreadable.get(head.number)
        if fault is not None:
            raise _UnreadableColumn(fault)
        if head.field == "expires" and len(strip_time(cell)) == 7:
            return read_expiry(cell)
        return read_cell_date(cell, self.columns.orders.get(head.number))


class _UnreadableColumn(Exception):  # noqa: N818 - carries the fault of a whole column
    def __init__(self, fault: Fault):
        super().__init__(fault.text)
        self.fault = fault
