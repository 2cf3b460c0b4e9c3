"""Reading visits and stock: both shapes, and every fault named while good lines are used."""

from __future__ import annotations

import json
from datetime import date

import pytest

from traywise.equipment.supplies import read_supplies
from traywise.session.needle_input import lots_of, read_visits
from traywise.session.needles import Kind

LONG, SHORT = Kind("needle", 25, 25), Kind("needle", 25, 16)
HEADER = "visit,item,gauge,length_mm,volume_ml,count,route\n"

# An invented tray in the shape of contract.md: one oral dose, one IM, one SC injection.
TRAY = {
    "id": "invented-1",
    "tray": [
        {"n": 1, "route": "PO", "needle": None, "site": None},
        {"n": 2, "route": "IM", "needle": {"gauge": 25, "length_mm": 25}, "site": "LT"},
        {"n": 3, "route": "SC", "needle": {"gauge": 25, "length_mm": 16}, "site": "RT"},
    ],
    "supplies": [
        {"item": "needle", "count": 1, "gauge": 25, "length_mm": 25},
        {"item": "needle", "count": 1, "gauge": 25, "length_mm": 16},
        {"item": "wipe", "count": 2},
        {"item": "invented diluent", "count": 1},
        {"item": "sharps-container", "count": 1},
    ],
}


@pytest.mark.parametrize(
    "text",
    [
        json.dumps(TRAY),
        json.dumps([TRAY]),
        json.dumps(TRAY) + "\n",
        json.dumps({"trays": [TRAY], "supplies": TRAY["supplies"]}),
    ],
)
def test_a_tray_is_found_in_every_shape_and_counted_once(text):
    visits, faults = read_visits(text, "session.json")
    assert not faults
    assert len(visits) == 1
    assert visits[0].uses == {LONG: 1, SHORT: 1, Kind("wipe"): 2}
    assert visits[0].routes == {(LONG, "IM"): 1, (SHORT, "SC"): 1}
    assert visits[0].sharps == 2


def test_json_lines_are_read_each_for_itself():
    text = json.dumps(TRAY) + "\n{broken\n" + json.dumps(TRAY)
    visits, faults = read_visits(text, "day.jsonl")
    assert len(visits) == 2
    assert [(f.code, f.at) for f in faults] == [("needles.E201", "day.jsonl, line 2")]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("{", "needles.E201"),
        ('{"tray": [], "supplies": [{"item": 3}]}', "needles.E202"),
        ('{"groups": {}}', "needles.E203"),
        ("", "needles.E203"),
    ],
)
def test_unfit_files_are_named(text, code):
    visits, faults = read_visits(text, "x")
    assert not visits
    assert [fault.code for fault in faults] == [code]


def test_csv_lines_join_to_visits():
    text = HEADER + "a,needle,25,25,,2,im\na,wipe,,,,2,\nb,needle,25,16,,1,SC\n"
    visits, faults = read_visits(text, "use.csv")
    assert not faults
    assert [dict(visit.uses) for visit in visits] == [{LONG: 2, Kind("wipe"): 2}, {SHORT: 1}]
    assert visits[0].routes == {(LONG, "IM"): 2}
    semicolons, faults = read_visits(text.replace(",", ";"), "use.csv")
    assert (semicolons, faults) == (visits, [])


def test_a_bad_line_keeps_its_number_and_the_others_are_read():
    text = HEADER + "a,needle,25,25,,1,\n\na,needle,25,1/2,,1,\n,wipe,,,,1,\nb,wipe,,,,1,\n"
    visits, faults = read_visits(text, "use.csv")
    assert len(visits) == 2
    assert [fault.code for fault in faults] == ["supplies.E008", "needles.E204"]
    assert "line 4" in faults[0].at
    assert "line 5" in faults[1].at


def test_a_missing_column_is_said_once():
    _, faults = read_visits("visit,item\na,wipe\nb,wipe\n", "use.csv")
    assert [fault.code for fault in faults] == ["supplies.E002"]


def test_stock_keeps_lots_apart_with_expiry_and_box():
    text = (
        "item,gauge,length_mm,volume_ml,count,expires,box,shelf\n"
        "needle,25,25,,80,2026-12,100,a\n"
        "needle,25,25,,40,2027-02-01,,b\n"
        "needle,25,25,,40,2027-13,,b\n"
        "needle,25,25,,40,,many,b\n"
    )
    supplies = read_supplies(text, "s.csv")
    lots = lots_of(supplies.lines)
    assert [(lot.count, lot.expires, lot.box) for lot in lots] == [
        (80, date(2026, 12, 31), 100),
        (40, date(2027, 2, 1), None),
        (40, None, None),  # a box that cannot be read costs no needle
    ]
    codes = [fault.code for fault in supplies.faults]
    assert codes == ["supplies.W012", "supplies.E013", "supplies.W014"]
    assert [lot.kind for lot in lots] == [LONG] * 3
