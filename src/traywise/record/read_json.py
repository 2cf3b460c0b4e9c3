"""Reads children from JSON: one object, a list, or one object a line.

Strict about what it knows, gentle about what it does not: an unknown key is a
warning, a bad value an error that sets this child aside and no other. All faults
of a child are found in one run, each with file, line, key path and remedy.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

from traywise.errors import Fault
from traywise.record.child import Child, Condition, DoseGiven, ProductReceived
from traywise.record.decode_text import decode_text
from traywise.record.json_place import Path, find_line
from traywise.record.json_text import Piece, split_json
from traywise.record.nearest import nearest
from traywise.record.plausible import check_child
from traywise.record.result import Entry, ReadResult
from traywise.record.values import (
    BadValue,
    printable,
    read_condition,
    read_cvx,
    read_date,
    read_expiry,
    read_flag,
    read_id,
    read_number,
    read_product,
    read_route,
    read_sex,
    read_site,
    read_text,
    read_time_of_day,
    read_whole,
    show,
)

Reader = Callable[[Any], Any]

DOSE: dict[str, Reader] = {
    "on": read_date,
    "cvx": read_cvx,
    "mvx": read_text,
    "lot": read_text,
    "expires": read_expiry,
    "route": read_route,
    "site": read_site,
    "volume_ml": read_number,
    "full": read_flag,
    "campaign": read_flag,
    "note": read_text,
}
CONDITION: dict[str, Reader] = {"key": read_condition, "from": read_date, "until": read_date}
PRODUCT: dict[str, Reader] = {"on": read_date, "kind": read_product}
CHILD: dict[str, Reader] = {
    "id": read_id,
    "name": read_text,
    "born": read_date,
    "sex": read_sex,
    "gestation_weeks": read_whole,
    "birth_weight_g": read_whole,
    "weight_kg": read_number,
    "weighed_on": read_date,
    "height_cm": read_number,
    "appointment": read_time_of_day,
    "assess_on": read_date,
}
_ID = re.compile(r'"id"\s*:\s*(?:"([^"\\]{1,200})"|(\d{1,30})\b)')
LISTS = ("doses", "conditions", "products", "avoid")


def read_children(
    data: bytes | str, name: str, *, day: date | None = None, today: date | None = None
) -> ReadResult:
    """All children of a JSON text.

    name   of the file, as faults shall show it
    day    the day to answer for where a record names none; default ``today``
    today  the clinic's day; default the clock's

    >>> result = read_children('{"id": "a", "born": "2026-01-05", "doses": []}', "child.json")
    >>> result.children[0].born.isoformat(), result.all_faults
    ('2026-01-05', ())
    """
    text, faults = decode_text(data, name)
    if text is None:
        return ReadResult(faults=tuple(faults))
    today = today or date.today()
    entries: list[Entry] = []
    for piece in split_json(text, name):
        if piece.fault is not None and piece.fault.code == "record.E005":
            faults.append(piece.fault)
        else:
            entries.append(_ChildReader(text, piece, name).read(day or today, today))
    return ReadResult(entries=refuse_doubles(entries), faults=tuple(faults))


def refuse_doubles(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """Entries that share an id are all set aside: each may hold half of one child's history."""
    places: dict[str, list[str]] = {}
    for entry in entries:
        if entry.id is not None:
            places.setdefault(entry.id, []).append(entry.at)
    return tuple(
        _set_aside(entry, places[entry.id])
        if entry.id is not None and len(places[entry.id]) > 1
        else entry
        for entry in entries
    )


def _set_aside(entry: Entry, places: Sequence[str]) -> Entry:
    others = ", ".join(dict.fromkeys(place for place in places if place != entry.at)) or entry.at
    text = (
        f'"{entry.id}" stands in {others} too. Give each child an id of its own, '
        "or merge the records."
    )
    fault = Fault("record.E011", f"{entry.at}, id", text)
    return Entry(id=entry.id, at=entry.at, child=None, faults=(*entry.faults, fault))


class _ChildReader:
    """Reads one piece of the file and collects its faults."""

    def __init__(self, text: str, piece: Piece, name: str):
        self.text, self.piece, self.name = text, piece, name
        self.faults: list[Fault] = []
        self.kept: dict[str, list[int]] = {}  # places in the file of the list items read

    def read(self, day: date, today: date) -> Entry:
        at = f"{self.name}, line {self.piece.line}"
        raw = self.piece.value
        if self.piece.fault is not None:
            return Entry(id=self._find_id(), at=at, child=None, faults=(self.piece.fault,))
        if not isinstance(raw, dict):
            self.report("record.E003", (), f"{show(raw)} is not a child. Write an object {{...}}.")
            return Entry(id=None, at=at, child=None, faults=tuple(self.faults))
        if "resourceType" in raw:
            remedy = "Read it as FHIR, or write the record's own keys."
            self.report("record.E007", (), f"This is an HL7 FHIR resource. {remedy}")
            return Entry(id=None, at=at, child=None, faults=tuple(self.faults))
        for key in self.piece.twice:
            remedy = "Keep the one that is right."
            self.report("record.E004", (), f'"{key}" stands twice in one object. {remedy}')
        values = self._read_child(raw)
        child = self._build(values)
        if child is not None:
            for path, code, text in check_child(child, day=child.assess_on or day, today=today):
                self.report(code, self._path_in_file(path), text)
        if any(fault.is_error for fault in self.faults):
            child = None
        return Entry(id=values.get("id"), at=at, child=child, faults=tuple(self.faults))

    def _find_id(self) -> str | None:
        """The id in the text of a broken piece, where it can be made out."""
        text = self.text[self.piece.start : self.piece.end or self.piece.start + 200]
        found = _ID.search(text)
        return printable(found[1] or found[2]) if found else None

    def _build(self, values: dict[str, Any]) -> Child | None:
        """The child when all that must be there is; errors elsewhere do not hinder the checks."""
        for key, code in (("id", "record.E010"), ("born", "record.E012")):
            if key not in values and not self._reported(key):
                self.report(code, (), f'"{key}" is missing. Add it.')
        return Child(**values) if "id" in values and "born" in values else None

    def _reported(self, key: str) -> bool:
        return any(fault.is_error and fault.at.endswith(f", {key}") for fault in self.faults)

    def report(self, code: str, path: Path, text: str) -> None:
        """One fault at a path inside the child, with the line it stands on."""
        line = find_line(self.text, self.piece.start, path)
        at = f"{self.name}, line {line}"
        if path:
            at += f", {format_path(path)}"
        self.faults.append(Fault(code, printable(at), printable(text)))

    def _read_child(self, raw: dict[str, Any]) -> dict[str, Any]:
        values = self._read_object(raw, CHILD, (), also=(*LISTS, "answers"))
        values["doses"] = self._read_list(raw, "doses", self._read_dose)
        values["conditions"] = self._read_list(raw, "conditions", self._read_condition)
        values["products"] = self._read_list(raw, "products", self._read_product)
        values["avoid"] = self._read_list(raw, "avoid", self._read_limb)
        values["answers"] = self._read_answers(raw.get("answers"))
        return values

    def _read_object(
        self,
        raw: dict[str, Any],
        readers: Mapping[str, Reader],
        path: Path,
        *,
        also: tuple[str, ...] = (),
    ) -> dict[str, Any]:
        """The known keys of an object, read; null is left out, unknown keys are reported."""
        values: dict[str, Any] = {}
        for key, value in raw.items():
            reader = readers.get(key)
            if reader is None:
                if key not in also:
                    self._report_unknown(key, path, (*readers, *also))
            elif value is not None:
                found = self._read_value(reader, value, (*path, key))
                if found is not None:
                    values[key] = found
        return values

    def _read_value(self, reader: Reader, value: Any, path: Path) -> Any:
        try:
            return reader(value)
        except BadValue as bad:
            self.report(bad.code, (*path, *bad.path), bad.text)
            return None

    def _report_unknown(self, key: str, path: Path, known: tuple[str, ...]) -> None:
        near = nearest(key, known)
        hint = f'Did you mean "{near}"?' if near else "It was not used."
        self.report("record.W001", (*path, key), f'"{key}" is not a key of the record. {hint}')

    def _read_list(
        self, raw: dict[str, Any], key: str, read_item: Callable[[Any, Path], Any]
    ) -> tuple[Any, ...]:
        items = raw.get(key)
        if items is None:
            return ()
        if not isinstance(items, list):
            self.report("record.E020", (key,), f"{show(items)} is not a list. Write [...].")
            return ()
        found = [read_item(item, (key, number)) for number, item in enumerate(items)]
        self.kept[key] = [number for number, item in enumerate(found) if item is not None]
        return tuple(item for item in found if item is not None)

    def _path_in_file(self, path: Path) -> Path:
        """A path inside the child as built, turned into the path in the file."""
        key, *rest = path
        if isinstance(key, str) and rest and isinstance(rest[0], int):
            return (key, self.kept[key][rest[0]], *rest[1:])
        return path

    def _read_entry(
        self, raw: Any, readers: Mapping[str, Reader], needed: tuple[str, ...], path: Path
    ) -> dict[str, Any] | None:
        """An object of a list; None when a key that it cannot do without is missing or bad."""
        if not isinstance(raw, dict):
            keys = ", ".join(f'"{key}"' for key in needed)
            self.report("record.E003", path, f"{show(raw)} is not an object with {keys}.")
            return None
        values = self._read_object(raw, readers, path)
        for key in needed:
            if raw.get(key) is None:
                self.report("record.E030", path, f'"{key}" is missing. Add it.')
        return values if all(key in values for key in needed) else None

    def _read_dose(self, raw: Any, path: Path) -> DoseGiven | None:
        values = self._read_entry(raw, DOSE, ("on", "cvx"), path)
        return None if values is None else DoseGiven(**values)

    def _read_condition(self, raw: Any, path: Path) -> Condition | None:
        if isinstance(raw, str):
            key = self._read_value(read_condition, raw, path)
            return None if key is None else Condition(key=key)
        values = self._read_entry(raw, CONDITION, ("key",), path)
        if values is None:
            return None
        return Condition(key=values["key"], since=values.get("from"), until=values.get("until"))

    def _read_product(self, raw: Any, path: Path) -> ProductReceived | None:
        values = self._read_entry(raw, PRODUCT, ("on", "kind"), path)
        return None if values is None else ProductReceived(**values)

    def _read_limb(self, raw: Any, path: Path) -> str | None:
        found: str | None = self._read_value(read_site, raw, path)
        return found

    def _read_answers(self, raw: Any) -> dict[str, str | int | float | bool]:
        if raw is None:
            return {}
        if not isinstance(raw, dict):
            remedy = 'Write {"question": "yes"}.'
            self.report("record.E020", ("answers",), f"{show(raw)} is not an object. {remedy}")
            return {}
        answers: dict[str, str | int | float | bool] = {}
        for key, value in raw.items():
            if isinstance(value, str | int | float):
                answers[key] = value
            elif value is not None:
                text = f'{show(value)} is no answer. Write "yes", "no", "unknown" or a value.'
                self.report("record.E033", ("answers", key), text)
        return answers


def format_path(path: Path) -> str:
    """A path as people write it.

    >>> format_path(("doses", 2, "on"))
    'doses[2].on'
    """
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else str(step)
    return text
