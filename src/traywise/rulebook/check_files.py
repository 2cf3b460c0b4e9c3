"""Checks files that a person wrote: an edition's folder, one of its group files, or an overlay."""

from __future__ import annotations

from pathlib import Path

from traywise.errors import Fault
from traywise.rulebook.check import check_edition
from traywise.rulebook.edition import edition_names, overlay_names, read_edition, read_folder
from traywise.rulebook.overlay import read_head
from traywise.rulebook.tables import place


def check_files(path: Path) -> tuple[str, list[Fault]]:
    """(what was checked, every fault found); a group file is checked with its whole edition."""
    if path.is_file() and path.name != "edition.toml" and _is_overlay(path):
        return _check_overlay(path)
    folder = path if path.is_dir() else path.parent
    if not (folder / "edition.toml").is_file():
        text = f"{path.name} is neither an overlay nor in a folder with an edition.toml."
        return path.name, [Fault("rulebook.E020", place(path), text)]
    edition, faults = read_folder(folder)
    if edition is not None and not faults:
        faults = check_edition(edition, folder)
    return f"edition {folder.name}", faults


def _is_overlay(path: Path) -> bool:
    head, data, faults = read_head(path)
    # A file that cannot be parsed outside an edition's folder can only be meant as an overlay.
    alone = not (path.parent / "edition.toml").is_file()
    return head is not None or "overlay" in data or (bool(faults) and not data and alone)


def _check_overlay(path: Path) -> tuple[str, list[Fault]]:
    """An overlay is checked on every edition that it names, with the overlays it builds on."""
    head, _, faults = read_head(path)
    what = f"overlay {path.name}"
    if head is None:
        return what, faults
    for need in head.needs:
        if need not in overlay_names():
            text = f'There is no overlay "{need}". Overlays: {", ".join(overlay_names())}.'
            faults.append(Fault("rulebook.E027", place(path, "overlay", "needs"), text))
    for base in head.on:
        if base not in edition_names():
            text = f'There is no edition "{base}". Editions: {", ".join(edition_names())}.'
            faults.append(Fault("rulebook.E020", place(path, "overlay", "on"), text))
            continue
        name = "+".join((base, *(n for n in head.needs if n in overlay_names()), str(path)))
        faults += [fault for fault in read_edition(name)[1] if fault not in faults]
    return what, faults
