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
from traywise.shelf.unread import SHELF_UNREAD, fault_of_unread

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
    # SHELF_UNREAD comes with the faults of which nothing is left.
    assert {f"shelf.{path.stem}" for path in FILES} | {SHELF_UNREAD} == of_files


# One more lot with a fault beside it -> whether the whole shelf counts as unread.
GOOD = "A1,08,prefilled,2,2027-01\n"
BAD = "A2,08,glass,2,2027-01\n"
LOST = [
    ("", False),
    (GOOD, False),
    (GOOD + BAD, False),
    (BAD, True),
    ("A3,08,prefilled,2,2020-01\n" + BAD, True),
    ("A3,08,prefilled,0,2027-01\n" + BAD, True),
    ("A3,08,prefilled,2,2020-01\n", False),
    ("A3,08,prefilled,2,soon\n", True),
]


@pytest.mark.parametrize(("lines", "unread"), LOST)
def test_a_shelf_is_unread_when_faults_leave_no_lot_to_use_and_only_then(lines: str, unread: bool):
    on = date(2026, 11, 24)
    shelf = read_shelf("lot,cvx,presentation,doses,expires\n" + lines, on=on)
    fault = fault_of_unread(shelf, "shelf.csv", on)
    assert (fault is not None) == unread


def test_a_lot_that_had_expired_when_it_came_was_read():
    text = "lot,cvx,presentation,doses,expires,received\nA1,08,prefilled,2,2026-01,2026-02-05\n"
    shelf = read_shelf(text, on=date(2026, 11, 24))
    assert [fault.code for fault in shelf.faults if fault.is_error] == ["shelf.E042"]
    assert fault_of_unread(shelf, "shelf.csv", date(2026, 11, 24)) is None


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
