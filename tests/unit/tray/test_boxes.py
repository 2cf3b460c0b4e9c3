"""From which box a piece is taken: what expires soonest first, the rest undated. Invented."""

from __future__ import annotations

from datetime import date

import pytest

from traywise.equipment.place import SupplyOnHand
from traywise.session.supplies_left import take_supplies
from traywise.tray.plan import Supply
from traywise.tray.supplies import from_boxes, supplies_together

SOON, LATER = date(2026, 12, 31), date(2027, 12, 31)
NEEDLE = {"item": "needle", "gauge": 25, "length_mm": 25}


def at_hand(*boxes: tuple[int, date | None]) -> list[SupplyOnHand]:
    return [SupplyOnHand(**NEEDLE, count=count, expires=expires) for count, expires in boxes]


# boxes in the order of use, needed -> (count, expiry) on the tray
TAKEN = [
    ([], 3, [(3, None)]),
    ([(9, None)], 3, [(3, None)]),
    ([(9, SOON), (9, LATER)], 3, [(3, SOON)]),
    ([(3, SOON), (9, LATER)], 3, [(3, SOON)]),
    ([(2, SOON), (9, LATER)], 3, [(2, SOON), (1, LATER)]),
    ([(2, SOON), (9, None)], 3, [(2, SOON), (1, None)]),
    ([(2, SOON)], 3, [(2, SOON), (1, None)]),
    ([(0, SOON), (9, LATER)], 3, [(3, LATER)]),
]


@pytest.mark.parametrize(("boxes", "needed", "expected"), TAKEN)
def test_the_soonest_box_is_taken_first(boxes, needed, expected):
    supplies = from_boxes([Supply(**NEEDLE, count=needed)], at_hand(*boxes))
    assert [(one.count, one.expires) for one in supplies] == expected


def test_another_kind_is_never_taken():
    other = SupplyOnHand(item="needle", gauge=25, length_mm=38, count=9, expires=SOON)
    supplies = from_boxes([Supply(**NEEDLE, count=1)], [other])
    assert [(one.length_mm, one.expires) for one in supplies] == [(25, None)]


def test_the_next_child_finds_what_the_first_left():
    left = take_supplies(at_hand((4, SOON), (9, LATER)), [Supply(**NEEDLE, count=3, expires=SOON)])
    assert [one.count for one in left] == [1, 9]
    second = from_boxes([Supply(**NEEDLE, count=3)], left)
    assert [(one.count, one.expires) for one in second] == [(1, SOON), (2, LATER)]


def test_a_room_counts_out_box_by_box():
    trays = [[Supply(**NEEDLE, count=2, expires=SOON)], [Supply(**NEEDLE, count=1, expires=LATER)]]
    together = supplies_together([*trays, trays[0]])
    assert [(one.count, one.expires) for one in together] == [(4, SOON), (1, LATER)]
