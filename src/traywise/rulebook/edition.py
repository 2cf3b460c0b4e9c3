"""Reads an edition folder into one frozen object; overlays change rows by key.

``load_edition("us-2025")`` reads ``editions/us-2025/edition.toml`` and one file
per group. ``load_edition("us-2025+clinic-x")`` puts the overlay file
``editions/overlays/clinic-x.toml`` on top; a path to a file serves as well.
All faults of all files are reported together.
"""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import msgspec

from traywise.calendar import Span, add
from traywise.errors import Fault, RulebookError
from traywise.rulebook.check import check_edition
from traywise.rulebook.rows import (
    Derived,
    EditionHead,
    General,
    GroupHead,
    LiveFamily,
    Row,
)
from traywise.rulebook.tables import EDITIONS, convert_row, place, read_rows, read_toml

OUT_OF_DATE_AFTER = Span(months=12)


class Group(msgspec.Struct, frozen=True, kw_only=True):
    """A group and its rows in printed order."""

    head: GroupHead
    rows: tuple[Row, ...]

    @property
    def key(self) -> str:
        return self.head.key


class Edition(msgspec.Struct, frozen=True, kw_only=True):
    """A published schedule, dated, with the overlays laid on it."""

    head: EditionHead
    general: General
    groups: tuple[Group, ...]
    products: dict[str, tuple[str, ...]]  # list name -> CVX codes
    families: tuple[LiveFamily, ...]
    derived: tuple[Derived, ...]
    overlays: tuple[str, ...] = ()
    overlaid_rows: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Key with its overlays: ``us-2025+clinic-x``."""
        return "+".join((self.head.key, *self.overlays))

    def group(self, key: str) -> Group:
        return next(group for group in self.groups if group.key == key)

    def is_out_of_date(self, on: date) -> bool:
        """True when the edition was published more than a year before ``on``."""
        year, _, rest = self.head.published.partition("-")
        month, _, day = rest.partition("-")
        published = date(int(year), int(month or 1), int(day or 1))
        return add(published, OUT_OF_DATE_AFTER) < on


def edition_names() -> tuple[str, ...]:
    """Keys of the editions that come with the program."""
    return tuple(sorted(path.parent.name for path in EDITIONS.glob("*/edition.toml")))


def overlay_names() -> tuple[str, ...]:
    """Keys of the overlays that come with the program."""
    return tuple(sorted(path.stem for path in (EDITIONS / "overlays").glob("*.toml")))


@cache
def load_edition(name: str) -> Edition:
    """The edition, overlays applied; raises RulebookError with every fault found."""
    edition, faults = read_edition(name)
    if edition is None or faults:
        raise RulebookError(faults)
    return edition


def read_edition(name: str) -> tuple[Edition | None, list[Fault]]:
    """The edition and all faults of its files and overlays."""
    base, *overlays = name.split("+")
    folder = EDITIONS / base
    if not (folder / "edition.toml").is_file():
        known = ", ".join(edition_names())
        return None, [
            Fault("rulebook.E020", base, f'There is no edition "{base}". Editions: {known}.')
        ]
    edition, faults = read_folder(folder)
    for overlay in overlays:
        if edition is None:
            break
        edition, overlay_faults = lay_on(edition, _overlay_path(overlay))
        faults += overlay_faults
    if edition is not None and not faults:
        faults += check_edition(edition, folder)
    return edition, faults


def _overlay_path(overlay: str) -> Path:
    path = Path(overlay)
    return path if path.suffix == ".toml" else EDITIONS / "overlays" / f"{overlay}.toml"


def read_folder(folder: Path) -> tuple[Edition | None, list[Fault]]:
    """One edition folder without overlays."""
    path = folder / "edition.toml"
    data, faults = read_toml(path)
    head, head_faults = convert_row(data.get("edition"), EditionHead, path, "edition")
    general, general_faults = convert_row(data.get("general"), General, path, "general")
    faults += head_faults + general_faults
    families = _read_list(data.get("live_family", []), LiveFamily, path, faults)
    derived = _read_list(data.get("derived", []), Derived, path, faults)
    if head is None or general is None:
        return None, faults
    groups = []
    for key in head.groups:
        group, group_faults = read_group(folder / f"{key.lower()}.toml", key)
        faults += group_faults
        if group is not None:
            groups.append(group)
    products = {name: tuple(codes) for name, codes in data.get("products", {}).items()}
    return (
        Edition(
            head=head,
            general=general,
            groups=tuple(groups),
            products=products,
            families=tuple(families),
            derived=tuple(derived),
        ),
        faults,
    )


def _read_list(raw: list[Any], kind: type[Any], path: Path, faults: list[Fault]) -> list[Any]:
    rows = []
    for number, item in enumerate(raw, start=1):
        row, row_faults = convert_row(item, kind, path, f"{kind.__name__} {number}")
        faults += row_faults
        if row is not None:
            rows.append(row)
    return rows


def read_group(path: Path, key: str) -> tuple[Group | None, list[Fault]]:
    """One group file: ``[group]`` and its ``[[row]]`` entries."""
    data, faults = read_toml(path)
    if faults:
        return None, faults
    head, faults = convert_row(data.get("group"), GroupHead, path, "group")
    rows, row_faults = read_rows(path, Row)
    faults += row_faults
    unknown = set(data) - {"group", "row"}
    if unknown:
        shown = ", ".join(sorted(unknown))
        faults.append(Fault("rulebook.E003", place(path), f"Unknown table {shown}. Remove it."))
    if head is None:
        return None, faults
    if head.key != key:
        faults.append(
            Fault("rulebook.E004", place(path, "group", "key"), f'"{head.key}" should be "{key}".')
        )
    return Group(head=head, rows=tuple(rows)), faults


class OverlayHead(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An overlay: who decided it, on which edition it lies."""

    key: str
    title: str
    publisher: str
    published: str
    on: tuple[str, ...]  # edition keys it fits
    note: str = ""


def lay_on(edition: Edition, path: Path) -> tuple[Edition, list[Fault]]:
    """An overlay file on an edition.

    ``[[change]]``: ``group``, ``row`` and the keys to replace; ``[[add]]``: ``group``,
    ``before`` (a row key, optional) and a whole row; ``[[remove]]``: ``group``, ``row``.
    """
    data, faults = read_toml(path)
    if faults:
        return edition, faults
    head, faults = convert_row(data.get("overlay"), OverlayHead, path, "overlay")
    if head is None:
        return edition, faults
    if edition.head.key not in head.on:
        text = f'The overlay is for {", ".join(head.on)}, not for "{edition.head.key}".'
        return edition, [*faults, Fault("rulebook.E021", place(path, "on"), text)]
    rows = {group.key: list(group.rows) for group in edition.groups}
    touched: list[str] = []
    for action in ("remove", "change", "add"):
        for number, entry in enumerate(data.get(action, []), start=1):
            faults += _apply(action, dict(entry), rows, path, f"{action} {number}", touched)
    groups = tuple(Group(head=group.head, rows=tuple(rows[group.key])) for group in edition.groups)
    return (
        msgspec.structs.replace(
            edition,
            groups=groups,
            overlays=(*edition.overlays, head.key),
            overlaid_rows=(*edition.overlaid_rows, *touched),
        ),
        faults,
    )


def _apply(
    action: str,
    entry: dict[str, Any],
    rows: dict[str, list[Row]],
    path: Path,
    where: str,
    touched: list[str],
) -> list[Fault]:
    group = entry.pop("group", None)
    if group not in rows:
        text = f'"{group}" is no group of the edition. Groups: {", ".join(rows)}.'
        return [Fault("rulebook.E022", place(path, where, "group"), text)]
    target = entry.pop("before" if action == "add" else "row", None)
    at = next((i for i, row in enumerate(rows[group]) if row.key == target), None)
    if at is None and (action != "add" or target is not None):
        text = f'"{target}" is no row of {group}.'
        return [Fault("rulebook.E023", place(path, where), text)]
    if action == "remove":
        touched.append(rows[group].pop(at if at is not None else 0).key)
        return []
    if action == "change" and at is not None:
        entry = {**_as_written(rows[group][at]), **entry}
    row, faults = convert_row(entry, Row, path, where)
    if row is None:
        return faults
    touched.append(row.key)
    if action == "change" and at is not None:
        rows[group][at] = row
    else:
        rows[group].insert(len(rows[group]) if at is None else at, row)
    return faults


def _as_written(row: Row) -> dict[str, Any]:
    """The row as TOML would hold it: only what differs from the defaults, spans as text."""

    def write(value: Any) -> Any:
        if isinstance(value, Span):
            return str(value)
        if isinstance(value, msgspec.Struct):
            return _as_written(value)  # type: ignore[arg-type]
        if isinstance(value, tuple):
            return [write(item) for item in value]
        return value

    return {
        field.encode_name: write(getattr(row, field.name))
        for field in msgspec.structs.fields(row)
        if field.required or getattr(row, field.name) != field.default
    }
