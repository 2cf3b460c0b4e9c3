"""Lays an overlay on an edition: rows changed, added or removed by key, groups and lists added.

An overlay is one TOML file, small enough to read beside the table that it changes:

``[overlay]``    who decided it, when, on which editions it lies (see rows.OverlayHead)
``[products]``   lists of CVX codes, added or replaced
``[[group]]``    ``key`` and what changes in the group's head; a new key makes a new group
``[[remove]]``   ``group``, ``row``
``[[change]]``   ``group``, ``row`` and the keys to replace, each as a whole (``when`` too);
                 a ``source`` is put in front of the row's own, which still holds for the rest
``[[add]]``      ``group``, ``before`` (a row, optional) and a whole row

They are applied in this order. A row may cite the overlay itself by its key.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec

from traywise.calendar import Span
from traywise.errors import Fault
from traywise.rulebook.published import Edition, Group
from traywise.rulebook.rows import GroupHead, OverlayHead, Row
from traywise.rulebook.tables import check_source, convert_row, place, read_toml

TABLES = ("overlay", "products", "group", "remove", "change", "add")


def read_head(path: Path) -> tuple[OverlayHead | None, dict[str, Any], list[Fault]]:
    """(head, the whole file, faults) of an overlay file."""
    data, faults = read_toml(path)
    if faults:
        return None, {}, faults
    head, faults = convert_row(data.get("overlay"), OverlayHead, path, "overlay")
    unknown = ", ".join(sorted(set(data) - set(TABLES)))
    if unknown:
        text = f"Unknown table {unknown}. An overlay holds: {', '.join(TABLES)}."
        faults.append(Fault("rulebook.E003", place(path), text))
    return head, data, faults


def lay_on(edition: Edition, path: Path) -> tuple[Edition, list[Fault]]:
    """The edition with the overlay of a file on it, and every fault of the file."""
    head, data, faults = read_head(path)
    if head is None:
        return edition, faults
    if edition.head.key not in head.on:
        text = f'The overlay is for {", ".join(head.on)}, not for "{edition.head.key}".'
        return edition, [*faults, Fault("rulebook.E021", place(path, "on"), text)]
    work = _Work(edition, path, head.key)
    work.lay_groups(_entries(data, "group"))
    for action in (work.remove, work.change, work.add):
        for number, entry in enumerate(_entries(data, action.__name__), start=1):
            work.rows_of(dict(entry), f"{action.__name__} {number}", action)
    products = {name: tuple(codes) for name, codes in data.get("products", {}).items()}
    laid = msgspec.structs.replace(
        edition,
        head=_joined(edition, head),
        groups=tuple(
            Group(head=work.heads[key], rows=tuple(rows)) for key, rows in work.rows.items()
        ),
        products={**edition.products, **products},
        overlays=(*edition.overlays, head.key),
        overlaid_rows=(*edition.overlaid_rows, *work.touched),
        warnings=(*edition.warnings, *([head.warning] if head.warning else [])),
    )
    return laid, faults + work.faults


def _joined(edition: Edition, head: OverlayHead) -> Any:
    """The edition's head with the overlay named in it; the newest date counts."""
    old = edition.head
    return msgspec.structs.replace(
        old,
        title=f"{old.title}; with {head.title}",
        publisher="; ".join(dict.fromkeys((*old.publisher.split("; "), head.publisher))),
        published=max(old.published, head.published),
        note=" ".join(note for note in (old.note, head.note) if note),
    )


def _entries(data: dict[str, Any], name: str) -> list[dict[str, Any]]:
    raw = data.get(name, [])
    return [entry for entry in raw if isinstance(entry, dict)] if isinstance(raw, list) else []


class _Work:
    """Rows and heads of an edition while an overlay is laid on; gathers the faults."""

    def __init__(self, edition: Edition, path: Path, key: str):
        self.path = path
        self.key = key
        self.heads = {group.key: group.head for group in edition.groups}
        self.rows = {group.key: list(group.rows) for group in edition.groups}
        self.touched: list[str] = []
        self.faults: list[Fault] = []

    def lay_groups(self, entries: list[dict[str, Any]]) -> None:
        """Change the heads of groups, or make new groups without rows."""
        for number, entry in enumerate(entries, start=1):
            old = self.heads.get(entry.get("key", ""))
            raw = {**as_written(old), **entry} if old is not None else entry
            head, faults = convert_row(raw, GroupHead, self.path, f"group {number}")
            self.faults += faults
            if head is not None:
                self.heads[head.key] = head
                self.rows.setdefault(head.key, [])

    def rows_of(self, entry: dict[str, Any], where: str, action: Any) -> None:
        """Carry out one ``[[remove]]``, ``[[change]]`` or ``[[add]]``, or say what is wrong."""
        group = entry.pop("group", None)
        if group not in self.rows:
            text = f'"{group}" is no group of the edition. Groups: {", ".join(self.rows)}.'
            self.faults.append(Fault("rulebook.E022", place(self.path, where, "group"), text))
            return
        action(entry, self.rows[group], where)

    def _find(self, rows: list[Row], key: object, where: str) -> int | None:
        at = next((i for i, row in enumerate(rows) if row.key == key), None)
        if at is None:
            known = ", ".join(row.key for row in rows)
            text = f'"{key}" is no row of this group. Rows: {known}.'
            self.faults.append(Fault("rulebook.E023", place(self.path, where), text))
        return at

    def remove(self, entry: dict[str, Any], rows: list[Row], where: str) -> None:
        at = self._find(rows, entry.get("row"), where)
        if at is not None:
            self.touched.append(rows.pop(at).key)

    def change(self, entry: dict[str, Any], rows: list[Row], where: str) -> None:
        at = self._find(rows, entry.pop("row", None), where)
        if at is None:
            return
        if isinstance(entry.get("source"), str):
            entry["source"] = f"{entry['source']}; {rows[at].source}"
        row = self._row({**as_written(rows[at]), **entry}, where)
        if row is not None:
            rows[at] = row

    def add(self, entry: dict[str, Any], rows: list[Row], where: str) -> None:
        target = entry.pop("before", None)
        at = len(rows) if target is None else self._find(rows, target, where)
        row = self._row(entry, where)
        if row is None or at is None:
            return
        if any(old.key == row.key for old in rows):
            text = f'"{row.key}" is there already. Change it, or give the new row another key.'
            self.faults.append(Fault("rulebook.E013", place(self.path, where, "key"), text))
            return
        rows.insert(at, row)

    def _row(self, raw: dict[str, Any], where: str) -> Row | None:
        row, faults = convert_row(raw, Row, self.path, where)
        self.faults += faults
        if row is None:
            return None
        if row.source.partition(",")[0] != self.key:
            self.faults += check_source(row.source, self.path, where)
        self.touched.append(row.key)
        return row


def as_written(row: msgspec.Struct) -> dict[str, Any]:
    """A row as TOML would hold it: only what differs from the defaults, spans as text."""

    def write(value: Any) -> Any:
        if isinstance(value, Span):
            return str(value)
        if isinstance(value, msgspec.Struct):
            return as_written(value)
        if isinstance(value, tuple):
            return [write(item) for item in value]
        return value

    return {
        field.encode_name: write(getattr(row, field.name))
        for field in msgspec.structs.fields(row)
        if field.required or getattr(row, field.name) != field.default
    }
