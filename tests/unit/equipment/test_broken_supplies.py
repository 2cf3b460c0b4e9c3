"""One broken file for each fault code of the supplies: told, placed, nothing raised."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from traywise.equipment import read_supplies_file
from traywise.equipment.fault_codes import FAULTS
from traywise.equipment.supplies import SUPPLIES_UNREAD, nothing_read, read_supplies

ROOT = Path(__file__).resolve().parents[3]
FILES = sorted((ROOT / "tests" / "broken" / "supplies").glob("*.csv"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_broken_file_is_told_by_its_code_and_the_rest_is_read(path):
    found = read_supplies_file(path, on=date(2026, 11, 24))
    assert [f"supplies.{path.stem}"] == [fault.code for fault in found.faults]
    assert path.name in found.faults[0].at
    readable = path.stem not in ("E001", "E002")
    assert readable == any(line.item == "wipe" for line in found.lines)


def test_every_code_in_the_source_is_listed_and_every_listed_one_has_a_broken_file():
    used = set()
    for path in (ROOT / "src" / "traywise" / "equipment").rglob("*.py"):
        if path.name != "fault_codes.py":
            used |= set(
                re.findall(r'"((?:equipment|supplies)\.[EW]\d{3})"', path.read_text("utf-8"))
            )
    # The reader takes W102 from the record.
    assert used | {"supplies.W102"} == set(FAULTS)
    told = {f"supplies.{path.stem}" for path in FILES} | {SUPPLIES_UNREAD}
    assert told == {c for c in FAULTS if c[0] == "s"}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_list_of_which_nothing_was_read_is_unknown_and_not_empty(path):
    lost = nothing_read(read_supplies_file(path), path.name)
    assert (lost is not None) == (path.stem in ("E001", "E002"))
    assert nothing_read(read_supplies("item,count\n"), "a list with no line yet") is None
