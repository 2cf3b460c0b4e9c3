"""Stock is the sum of its entries and never below zero, whatever is entered in which order."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traywise.errors import RefusedError
from traywise.shelf.entries import (
    StockEntry,
    StockPlace,
    add_entry,
    count_difference,
    held_lots,
    open_loans,
    stock,
)

START = datetime(2026, 11, 2, 8, 0, tzinfo=UTC)
PUBLIC = StockPlace(lot="A1", cvx="08", unit="fridge 1", funding="public")
PRIVATE = msgspec.structs.replace(PUBLIC, funding="private")
OTHER_UNIT = msgspec.structs.replace(PUBLIC, unit="fridge 2")


def entry(kind: str, doses: int = 0, day: int = 0, **more) -> StockEntry:
    fields = {"at": START + timedelta(days=day), "kind": kind, "place": PUBLIC, "doses": doses}
    if kind == "receive":
        fields["expires"] = date(2027, 5, 31)
    return StockEntry(**{**fields, **more})


def enter(*entries: StockEntry) -> tuple[StockEntry, ...]:
    done: tuple[StockEntry, ...] = ()
    for one in entries:
        done = add_entry(done, one)
    return done


def refused(*entries: StockEntry) -> list[str]:
    with pytest.raises(RefusedError) as error:
        enter(*entries)
    return [fault.code for fault in error.value.faults]


def test_stock_is_the_sum_of_what_came_went_and_was_counted():
    done = enter(
        entry("receive", 20),
        entry("use", 3, 1),
        entry("waste", 1, 2, reason="dropped"),
        entry("transfer", 5, 3, to=OTHER_UNIT),
        entry("count", 10, 4),
    )
    assert stock(done) == {PUBLIC: 10, OTHER_UNIT: 5}
    assert stock(done, START + timedelta(days=3)) == {PUBLIC: 11, OTHER_UNIT: 5}
    assert count_difference(done[:-1], done[-1]) == -1


def test_stock_never_falls_below_zero_not_even_in_the_past():
    assert refused(entry("receive", 2), entry("use", 3, 1)) == ["shelf.E100"]
    # An entry written today for a day before the delivery is refused as well.
    assert refused(entry("receive", 2, 5), entry("use", 1, 4)) == ["shelf.E100"]
    assert refused(entry("receive", 2), entry("use", 2, 3), entry("use", 1, 1)) == ["shelf.E100"]


@pytest.mark.parametrize(
    ("bad", "code"),
    [
        (entry("use", 0), "shelf.E101"),
        (entry("count", -1), "shelf.E101"),
        (entry("waste", 1), "shelf.E102"),
        (entry("quarantine"), "shelf.E102"),
        (entry("transfer", 1), "shelf.E103"),
        (entry("use", 1, to=OTHER_UNIT), "shelf.E103"),
        (entry("transfer", 1, to=PRIVATE), "shelf.E105"),
        (entry("borrow", 1, to=OTHER_UNIT, reason="late delivery", child="c1"), "shelf.E105"),
        (entry("borrow", 1, to=PRIVATE, reason="late delivery"), "shelf.E106"),
        (entry("receive", 1, expires=None), "shelf.E041"),
        (entry("receive", 1, expires=date(2026, 11, 1)), "shelf.E042"),
    ],
)
def test_an_entry_that_lacks_what_it_needs_is_refused(bad: StockEntry, code: str):
    assert refused(entry("receive", 5), bad) == [code]


def test_quarantine_and_recall_stop_use_and_only_quarantine_ends():
    held = enter(entry("receive", 5), entry("quarantine", day=1, reason="warm fridge"))
    with pytest.raises(RefusedError):
        add_entry(held, entry("use", 1, 2))
    released = add_entry(held, entry("release", day=2))
    assert stock(add_entry(released, entry("use", 1, 3)))[PUBLIC] == 4
    recalled = add_entry(released, entry("recall", day=4, reason="notice of the maker"))
    recalled = add_entry(recalled, entry("release", day=5))
    assert "recalled" in held_lots(recalled)["A1"]
    assert refused(*recalled, entry("use", 1, 6)) == ["shelf.E110"]
    # Throwing away a held lot is allowed.
    assert stock(add_entry(recalled, entry("waste", 5, 6, reason="recall")))[PUBLIC] == 0


def test_use_ends_with_the_expiry_day():
    received = enter(entry("receive", 5, expires=date(2026, 11, 10)))
    assert stock(add_entry(received, entry("use", 1, 8)))[PUBLIC] == 4  # 10 November
    assert refused(*received, entry("use", 1, 9)) == ["shelf.E111"]


def test_borrowing_is_recorded_until_it_is_repaid():
    done = enter(
        entry("receive", 5),
        entry("borrow", 2, 1, to=PRIVATE, reason="delivery late", child="c1"),
        entry("use", 2, 2, place=PRIVATE, child="c1"),
    )
    assert stock(done) == {PUBLIC: 3, PRIVATE: 0}
    (loan,) = open_loans(done)
    assert (loan.lender.funding, loan.borrower.funding, loan.doses) == ("public", "private", 2)
    lot = StockPlace(lot="B2", cvx="08", unit="fridge 1", funding="private")
    back = StockPlace(lot="B2", cvx="08", unit="fridge 1", funding="public")
    repaid = (*done, entry("receive", 4, 3, place=lot), entry("repay", 2, 4, place=lot, to=back))
    assert open_loans(enter(*repaid)) == ()
    assert stock(enter(*repaid))[back] == 2


KINDS = st.sampled_from(["receive", "use", "waste", "count", "transfer", "borrow"])


@settings(max_examples=80, deadline=None)
@given(st.lists(st.tuples(KINDS, st.integers(0, 6), st.integers(0, 5)), max_size=12))
def test_no_series_of_entries_brings_any_place_below_zero(steps):
    done: tuple[StockEntry, ...] = ()
    for kind, doses, day in steps:
        to = {"transfer": OTHER_UNIT, "borrow": PRIVATE}.get(kind)
        try:
            done = add_entry(done, entry(kind, doses, day, to=to, reason="r", child="c"))
        except RefusedError:
            continue
        for moment in range(7):
            assert min(stock(done, START + timedelta(days=moment)).values(), default=0) >= 0
