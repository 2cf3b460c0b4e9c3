"""Reads an edition folder into one frozen object, overlays laid on.

``load_edition("us-2025")`` reads ``editions/us-2025/edition.toml`` and one file
per group. ``load_edition("us-2025+clinic-x")`` puts the overlay file
``editions/overlays/clinic-x.toml`` on top; a path to a file serves as well. An
overlay that fits exactly one edition may be named alone. All faults of all
files are reported together.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from traywise.errors import Fault, RulebookError
from traywise.rulebook.check import check_edition
from traywise.rulebook.kept import kept
from traywise.rulebook.overlay import lay_on, read_head
from traywise.rulebook.published import Edition, Group
from traywise.rulebook.rows import Derived, EditionHead, General, GroupHead, LiveFamily, Row
from traywise.rulebook.tables import EDITIONS, convert_row, place, read_rows, read_toml


def edition_names() -> tuple[str, ...]:
    """Keys of the editions that come with the program."""
    return tuple(sorted(path.parent.name for path in EDITIONS.glob("*/edition.toml")))


def overlay_names() -> tuple[str, ...]:
    """Keys of the overlays that come with the program."""
    return tuple(sorted(path.stem for path in (EDITIONS / "overlays").glob("*.toml")))


def overlay_path(overlay: str) -> Path:
    """The file of an overlay: by its key, or by a path that ends in .toml."""
    path = Path(overlay)
    return path if path.suffix == ".toml" else EDITIONS / "overlays" / f"{overlay}.toml"


def full_name(name: str) -> str:
    """The name with its edition in front and with the overlays that an overlay builds on.

    >>> full_name("aap-2026"), full_name("us-2025")
    ('us-2025+aap-2026', 'us-2025')
    """
    parts = name.split("+")
    if not _is_there(EDITIONS / parts[0] / "edition.toml") and _is_there(overlay_path(parts[0])):
        head, _, _ = read_head(overlay_path(parts[0]))
        if head is not None and len(head.on) == 1:
            parts.insert(0, head.on[0])
    found = parts[:1]
    for overlay in parts[1:]:
        head, _, _ = read_head(overlay_path(overlay))
        found += [need for need in (head.needs if head else ()) if need not in found]
        if overlay not in found:
            found.append(overlay)
    return "+".join(found)


@cache
def load_edition(name: str) -> Edition:
    """The edition, overlays applied; raises RulebookError with every fault found."""
    files = _files_of(name)
    if not all(map(_is_there, files)):
        # Never from what is kept: without the missing overlay it would be another edition.
        return _read_checked(name)
    return kept(Edition, files, lambda: _read_checked(name))


def _files_of(name: str) -> list[Path]:
    """Every file that an edition is made from or checked against, there or not."""
    base, *overlays = full_name(name).split("+")
    files = [EDITIONS / base / "edition.toml"]
    if _is_there(files[0]):
        files = sorted((EDITIONS / base).glob("*.toml"))
    files += [*map(overlay_path, overlays)]
    files += [EDITIONS / "sources.toml", EDITIONS / "codes" / "cvx.toml"]
    return files + [EDITIONS / "tables" / f"{table}.toml" for table in ("conditions", "vaccines")]


def _is_there(path: Path) -> bool:
    """Whether there is such a file; a name that no file can have is none."""
    try:
        return path.is_file()
    except OSError:
        return False


def _read_checked(name: str) -> Edition:
    edition, faults = read_edition(name)
    if edition is None or faults:
        raise RulebookError(faults)
    return edition


def read_edition(name: str) -> tuple[Edition | None, list[Fault]]:
    """The edition and all faults of its files and overlays."""
    base, *overlays = full_name(name).split("+")
    folder = EDITIONS / base
    if not _is_there(folder / "edition.toml"):
        known = ", ".join(edition_names())
        text = f'There is no edition "{base}". Editions: {known}.'
        return None, [Fault("rulebook.E020", base or "edition", text)]
    edition, faults = read_folder(folder)
    for overlay in overlays:
        if edition is None:
            break
        if not _is_there(overlay_path(overlay)):
            known = ", ".join(overlay_names())
            text = f'There is no overlay "{overlay}". Give a file, or one of: {known}.'
            faults.append(Fault("rulebook.E027", overlay or "edition", text))
            continue
        edition, overlay_faults = lay_on(edition, overlay_path(overlay))
        faults += overlay_faults
    if edition is not None and not faults:
        faults += check_edition(edition, folder)
    return edition, faults


def read_folder(folder: Path) -> tuple[Edition | None, list[Fault]]:
    """One edition folder without overlays."""
    path = folder / "edition.toml"
    data, faults = read_toml(path)
    if faults:
        return None, faults
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
