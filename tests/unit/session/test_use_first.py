"""For whom doses that end soon could be used: due by then, fitting, of the same funding.

Ages of the doses: CDC, Child and adolescent schedule 2025, Table 1 (HepB at birth, 1 to 2 and 6
months; MMR and VAR from 12 months). The children are invented.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from traywise.record.child import Child, CvxCode, DoseGiven
from traywise.session.use_first import could_use
from traywise.shelf.lot import Lot

ON = date(2026, 11, 24)
FIRST_BIRTHDAY = date(2026, 12, 10)
TURNS_ONE = Child(id="one", born=date(2025, 12, 10))


def mmr(expires: date, **changes: object) -> Lot:
    given = {"cvx": "03", "presentation": "vial+diluent", "doses": 3, "expires": expires}
    return Lot(lot="M1", **{**given, **changes})


@pytest.mark.parametrize(
    ("expires", "found"),
    [
        (FIRST_BIRTHDAY - timedelta(days=1), False),
        (FIRST_BIRTHDAY, True),
        (FIRST_BIRTHDAY + timedelta(days=9), True),
        (ON - timedelta(days=1), False),
    ],
)
def test_a_child_counts_who_is_due_by_the_last_day(expires: date, found: bool):
    (own,) = could_use([TURNS_ONE], [mmr(expires)], ON)
    assert [(one.id, one.day, one.groups) for one in own] == (
        [("one", FIRST_BIRTHDAY, ("MMR",))] if found else []
    )


@pytest.mark.parametrize(
    ("child", "stock", "found"),
    [
        ("public", "public", True),
        ("private", "private", True),
        ("public", "private", False),
        ("private", "public", False),
        ("public", "", True),
        (None, "public", True),
    ],
)
def test_funding_sources_are_kept_apart(child: str | None, stock: str, found: bool):
    answers = {} if child is None else {"funding": child}
    one = Child(id="one", born=date(2025, 6, 1), answers=answers)
    (own,) = could_use([one], [mmr(date(2026, 12, 31), funding=stock)], ON)
    assert [entry.id for entry in own] == (["one"] if found else [])
    assert all(entry.funding == (child or "") for entry in own)


def test_who_has_had_it_or_may_not_have_it_is_not_named():
    had = Child(
        id="had", born=date(2025, 6, 1), doses=(DoseGiven(on=date(2026, 6, 2), cvx=CvxCode("03")),)
    )
    unborn = Child(id="unborn", born=ON + timedelta(days=5))
    due = Child(id="due", born=date(2025, 6, 1))
    assert [[one.id for one in own] for own in could_use([had, unborn, due], [mmr(ON)], ON)] == [
        ["due"]
    ]
    held = mmr(date(2026, 12, 31), held="recalled")
    assert could_use([due], [held, mmr(date(2026, 12, 31), doses=0)], ON) == [(), ()]


def test_the_earliest_due_come_first_and_each_lot_is_asked_for_itself():
    now = Child(id="now", born=date(2025, 6, 1))
    lots = [mmr(date(2026, 12, 31)), mmr(date(2026, 12, 1))]
    found = could_use([TURNS_ONE, now], lots, ON)
    assert [[one.id for one in own] for own in found] == [["now", "one"], ["now"]]
