"""One broken shelf file for each fault code, and no line of any of them is lost."""

from __future__ import annotations

import csv
import re
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from traywise.session.fault_codes import FAULTS as SESSION
from traywise.shelf.fault_codes import FAULTS as SHELF
from traywise.shelf.read_csv import read_shelf

HERE = Path(__file__).parent / "shelf"
SOURCE = Path(__file__).parents[2] / "src" / "traywise"
FILES = sorted(HERE.glob("*.csv"))
CLOCK = ZoneInfo("CET")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_broken_file_is_told_by_its_code_alone(path: Path):
    result = read_shelf(path, on=date(2026, 11, 24), zone=CLOCK)
    assert [fault.code for fault in result.faults] == [f"shelf.{path.stem}"]
    assert path.name in result.faults[0].at
    lines = [row for row in csv.reader(path.open(encoding="cp1252")) if row][1:]
    assert len(result.lots) + len(result.set_aside) == len(lines)


def test_each_code_of_a_file_has_its_broken_file():
    of_files = {code for code in SHELF if not re.match(r"shelf\.E1\d\d", code)}
    assert {f"shelf.{path.stem}" for path in FILES} == of_files


@pytest.mark.parametrize(("room", "known"), [("shelf", SHELF), ("session", SESSION)])
def test_each_code_of_the_source_is_listed_and_each_listed_one_is_used(room, known):
    text = "".join(
        path.read_text(encoding="utf-8")
        for path in (SOURCE / room).rglob("*.py")
        if path.name != "fault_codes.py"
    )
    # The forecast of needles lives in the session's room under codes of its own.
    rooms = "session|needles" if room == "session" else room
    used = set(re.findall(rf'"((?:{rooms})\.[EW]\d{{3}})"', text))
    # The check of a plan numbers its faults from 100; the reader takes W102 from the record.
    used |= {f"session.E1{n:0>2}" for n in re.findall(r"(?:_fault\(|yield )(\d{1,2}), ", text)}
    assert used | ({"shelf.W102"} & set(known)) == set(known)
