"""The state of each lot on a day, on both sides of every limit; doses by funding. Invented."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from traywise.shelf.lot import Lot
from traywise.shelf.overview import DosesAtHand, doses_at_hand, look_over

ON = date(2026, 11, 24)
NOON = datetime(2026, 11, 24, 12, tzinfo=UTC)


def lot(name: str = "A1", **changes: object) -> Lot:
    given = {"cvx": "08", "presentation": "prefilled", "doses": 3, "expires": date(2027, 11, 30)}
    return Lot(lot=name, **{**given, **changes})


def opened(minutes: int, **changes: object) -> Lot:
    """A vial whose discard time lies so many minutes from noon."""
    return lot(
        cvx="10",
        presentation="multidose",
        opened_at=NOON - timedelta(days=1),
        discard_at=NOON + timedelta(minutes=minutes),
        **changes,
    )


def days(number: int) -> date:
    return ON + timedelta(days=number)


# lot, days that count as soon -> state, whether it ends soon, a word of the reason
STATES = [
    (lot(), 30, "usable", False, ""),
    (lot(expires=days(31)), 30, "usable", False, ""),
    (lot(expires=days(30)), 30, "ends soon", True, ""),
    (lot(expires=days(0)), 0, "ends soon", True, ""),
    (lot(expires=days(1)), 0, "usable", False, ""),
    (lot(expires=days(-1)), 30, "expired", False, "expired on 2026-11-23"),
    (lot(expires=days(-1), held="recalled"), 30, "expired", False, "recalled"),
    (lot(held="recalled"), 30, "not to be used", False, "recalled"),
    (lot(doses=0, held="recalled"), 30, "not to be used", False, "recalled"),
    (lot(doses=0), 30, "empty", False, "empty"),
    (lot(expires=None), 30, "not to be used", False, "not recorded"),
    (opened(1), 30, "opened", True, ""),
    (opened(0), 30, "not to be used", False, "past its discard time"),
    (opened(60 * 24 * 40), 30, "opened", False, ""),
]


@pytest.mark.parametrize(("one", "within", "state", "soon", "why"), STATES)
def test_each_lot_is_in_one_state_and_says_why(one, within, state, soon, why):
    (found,) = look_over([one], ON, within, NOON, UTC)
    assert (found.state, found.soon) == (state, soon)
    assert why in found.why
    assert bool(found.why) == (state in ("expired", "not to be used", "empty"))


def test_what_ends_soonest_comes_first_and_the_unknown_last():
    lots = [lot("none", expires=None), lot("late"), lot("soon", expires=days(3))]
    assert [one.lot.lot for one in look_over(lots, ON, 30)] == ["soon", "late", "none"]


def test_doses_of_one_product_are_counted_for_each_funding_apart():
    lots = [
        lot("A", doses=4, funding="public"),
        lot("B", doses=2, funding="public", expires=days(9)),
        lot("C", doses=7, funding="public", expires=days(-9)),
        lot("D", doses=5, funding="private"),
        lot("E", doses=1),
    ]
    found = doses_at_hand(look_over(lots, ON, 30))
    name = lots[0].product.name
    assert found == (
        DosesAtHand(vaccine="HepB", name=name, funding="", usable=1, soon=0, lost=0),
        DosesAtHand(vaccine="HepB", name=name, funding="private", usable=5, soon=0, lost=0),
        DosesAtHand(vaccine="HepB", name=name, funding="public", usable=6, soon=2, lost=7),
    )
    assert sum(one.usable + one.lost for one in found) == sum(one.doses for one in lots)
