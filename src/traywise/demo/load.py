"""Reads the demo files through the same readers as anybody's files."""

from __future__ import annotations

import re
from datetime import date, timedelta
from pathlib import Path

from traywise.equipment.place import SupplyOnHand
from traywise.equipment.supplies import read_supplies_file
from traywise.errors import Fault, InputError
from traywise.record.child import Child
from traywise.record.read_json import read_children
from traywise.shelf.lot import Lot
from traywise.shelf.read_csv import read_shelf

FOLDER = Path(__file__).resolve().parent
DEMO_DAY = date(2026, 11, 24)
_DATE = re.compile(r"\b20\d\d-\d\d-\d\d")


def demo_files() -> dict[str, Path]:
    """Paths of the roster, the shelf and the supplies."""
    return {
        "roster": FOLDER / "children.jsonl",
        "shelf": FOLDER / "shelf.csv",
        "supplies": FOLDER / "supplies.csv",
    }


def demo_children(on: date = DEMO_DAY) -> tuple[Child, ...]:
    """The children of the demo session, all dates moved so that it plays on ``on``."""
    result = read_children(
        shifted("roster", on), "children.jsonl", day=on, today=max(on, date.today())
    )
    _must_be_clean(result.all_faults)
    return result.children


def demo_shelf(on: date = DEMO_DAY) -> tuple[Lot, ...]:
    """The lots of the demo clinic, moved likewise; month-only expiry dates stay."""
    shelf = read_shelf(shifted("shelf", on), "shelf.csv", on=on)
    _must_be_clean(shelf.faults)
    return shelf.lots


def demo_supplies() -> tuple[SupplyOnHand, ...]:
    """Needles, syringes and the rest."""
    supplies = read_supplies_file(demo_files()["supplies"])
    _must_be_clean(supplies.faults)
    return supplies.lines


def shifted(name: str, on: date) -> str:
    """A demo file with every full date moved by as many days as ``on`` is after the demo day."""
    text = demo_files()[name].read_text(encoding="utf-8")
    days = (on - DEMO_DAY).days
    return _DATE.sub(
        lambda found: (date.fromisoformat(found[0]) + timedelta(days=days)).isoformat(), text
    )


def _must_be_clean(faults: tuple[Fault, ...]) -> None:
    errors = [fault for fault in faults if fault.is_error]
    if errors:
        raise InputError(errors)
