"""Supplies with an expiry: read, used up to the last day, named and left out after it. Invented."""

from __future__ import annotations

from datetime import date, timedelta

import msgspec
import pytest
from tests.unit.equipment.visits import child_of, dose

from traywise.equipment import SupplyOnHand, equip
from traywise.equipment.in_date import in_date
from traywise.equipment.supplies import read_supplies

HEADER = "item,gauge,length_mm,volume_ml,count,expires\n"
LAST = date(2026, 11, 30)


@pytest.mark.parametrize(
    ("cell", "expires"),
    [
        ("", None),
        ("2026-11-24", date(2026, 11, 24)),
        ("2026-11", date(2026, 11, 30)),
        ("2024-02", date(2024, 2, 29)),
    ],
)
def test_an_expiry_is_a_day_or_the_last_day_of_a_month(cell, expires):
    found = read_supplies(HEADER + f"needle,25,25,,9,{cell}\n")
    assert (found.faults, found.lines[0].expires) == ((), expires)


@pytest.mark.parametrize("cell", ["2026", "30/11/2026", "2026-13", "2026-02-30", "soon"])
def test_an_expiry_that_cannot_be_read_sets_the_line_aside(cell):
    found = read_supplies(HEADER + f"needle,25,25,,9,{cell}\nwipe,,,,9,\n", "supplies.csv")
    assert [(f.code, f.at) for f in found.faults] == [
        ("supplies.E013", "supplies.csv, line 2, column expires")
    ]
    assert [line.item for line in found.lines] == ["wipe"]


@pytest.mark.parametrize(("day", "codes"), [(LAST, []), (date(2026, 12, 1), ["supplies.W013"])])
def test_what_has_expired_by_the_day_asked_for_is_warned_about(day, codes):
    found = read_supplies(HEADER + "needle,25,25,,9,2026-11\nwipe,,,,0,2020-01\n", on=day)
    assert [fault.code for fault in found.faults] == codes  # nothing is left of the wipes


def test_one_kind_with_two_expiries_is_two_boxes_and_no_slip():
    text = HEADER + "needle,25,25,,9,2026-12\nneedle,25,25,,5,2027-12\nneedle,25,25,,1,2026-12\n"
    found = read_supplies(text)
    assert [(line.count, line.expires.year) for line in found.lines] == [(10, 2026), (5, 2027)]
    assert [(f.code, f.at) for f in found.faults] == [("supplies.W011", "supplies, line 4")]


def box(expires: date | None, count: int = 9, length_mm: int = 25) -> SupplyOnHand:
    return SupplyOnHand(item="needle", gauge=25, length_mm=length_mm, count=count, expires=expires)


def test_boxes_come_in_the_order_of_use():
    boxes = [box(None), box(LAST + timedelta(days=9)), box(LAST - timedelta(days=1)), box(LAST)]
    assert [one.expires for one in in_date(boxes, LAST)] == [LAST, LAST + timedelta(days=9), None]


@pytest.mark.parametrize(("days", "used"), [(0, True), (1, False)])
def test_a_needle_is_used_through_its_last_day_and_not_after(days, used):
    child, on = child_of("2 months")
    expires = on - timedelta(days=days)
    place = equip(child, on, [dose("PCV20")], [box(expires), box(None, length_mm=38)]).places[0]
    assert (place.needle is not None) == used
    if not used:
        assert f"expired on {expires}" in place.needle_missing


def test_only_the_needle_that_is_lacking_is_said_to_have_expired():
    child, on = child_of("2 months")
    gone = box(on - timedelta(days=1), length_mm=38)
    place = equip(child, on, [dose("PCV20")], [gone]).places[0]
    assert "expired" not in place.needle_missing
    empty = msgspec.structs.replace(box(on - timedelta(days=1)), count=0)
    assert "expired" not in equip(child, on, [dose("PCV20")], [empty]).places[0].needle_missing
