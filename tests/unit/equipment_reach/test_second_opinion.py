"""The note beside the table's needle: careful wording, never another needle."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests.unit.equipment.visits import equip_one

import traywise.equipment
from traywise.equipment.reach.compare import second_opinion

# ACIP General Best Practice, table of needle lengths: every length it prints, 16 to 38 mm
TABLE_LENGTHS = (16, 25, 32, 38)
ROOM = Path(traywise.equipment.__file__).parent


@pytest.mark.parametrize("site", ["thigh", "deltoid"])
def test_the_tables_length_comes_back_unchanged_at_every_age(site):
    for age in (*range(25), 36, 60, 120, 216):
        for length in TABLE_LENGTHS:
            note = second_opinion(length, site, age)
            assert note.table_length_mm == length
            assert "stands" in note.text
            for word in ("instead", "change to", "should use", "use a shorter", "use a longer"):
                assert word not in note.text


@pytest.mark.parametrize(("avoid", "site"), [((), None), (("LT", "RT"), "deltoid")])
def test_the_tray_keeps_the_tables_needle_whatever_reach_says(avoid, site):
    disagreed = 0
    for months in (0, 1, 2, 4, 6, 9, 12, 18, 24, 36, 60, 120, 131, 132, 215):
        age = f"{months} months" if months else "birth"
        if avoid and months < 12:
            continue  # below 12 months the table has the thigh alone
        place = equip_one(age, "HepB", avoid=avoid)
        where = site or ("deltoid" if place.site in ("LA", "RA", "LD", "RD") else "thigh")
        note = second_opinion(place.needle.length_mm, where, months)
        assert note.table_length_mm == place.needle.length_mm
        assert equip_one(age, "HepB", avoid=avoid) == place
        disagreed += note.differs
    assert disagreed >= 2 or avoid  # 25 mm at 2 and 4 months: the note speaks, the tray stays


def test_whatever_chooses_a_needle_does_not_read_reach():
    readers = [
        path.name
        for path in ROOM.rglob("*.py")
        if "reach" not in path.parts and re.search(r"equipment\.reach", path.read_text("utf-8"))
    ]
    # weight.py tells what a weight would change; the front door may pass names on
    assert set(readers) <= {"weight.py", "__init__.py"}


@pytest.mark.parametrize("age", [2, 4])
def test_25_mm_straight_in_a_young_infant_is_questioned_with_the_trials(age):
    note = second_opinion(25, "thigh", age)
    assert note.differs
    assert note.table_length_mm == 25
    assert any("Diggle & Deeks 2000" in trial for trial in note.trials)
    assert "point the other way" in note.text
    assert "not bone touched" in note.text
    assert "technique" in note.text


@pytest.mark.parametrize(
    ("length", "age", "differs"),
    [(22, 2, True), (22, 4, False), (25, 4, True), (25, 6, False), (25, 18, False), (16, 4, False)],
)
def test_it_speaks_up_only_from_three_in_four(length, age, differs):
    # shares at bone depth: 77, 56, 89, 50, 53, 2 of 100 (Cook & Murtagh 2002)
    assert second_opinion(length, "thigh", age).differs == differs


def test_it_stays_quiet_between_measured_ages():
    assert second_opinion(25, "thigh", 3).answer.evidence == "interpolated"
    assert not second_opinion(25, "thigh", 3).differs


def test_without_evidence_it_says_so_and_gives_no_number():
    note = second_opinion(25, "deltoid", 60)
    assert not note.differs
    assert note.text.startswith("No evidence")
    assert not re.search(r"\d+ of 100", note.text)


def test_a_needle_far_too_short_is_questioned_too():
    note = second_opinion(8, "thigh", 6)
    assert note.differs
    assert "short of muscle" in note.text
