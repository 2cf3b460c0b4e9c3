"""Stock is the sum of its entries, and never below none."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from traywise.errors import RefusedError
from traywise.workbench.shelf.models import Lot, OpenVial, StockEntry
from traywise.workbench.shelf.stock import count_again, move, sum_of_entries

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot(people: Any) -> Lot:
    lot = Lot.objects.create(
        lot="FM2609",
        cvx="141",
        vaccine="IIV3-multidose",
        presentation="multidose",
        doses_per_vial=10,
        expires=date(2027, 5, 31),
    )
    move(lot, 3, StockEntry.RECEIVED, by=people["vaccinator"], key="in")
    return lot


def left(lot: Lot) -> int:
    lot.refresh_from_db()
    assert lot.doses_left == sum_of_entries(lot)
    return lot.doses_left


def test_doses_go_one_by_one_until_none_is_left(lot: Lot, people: Any) -> None:
    by = people["vaccinator"]
    for number in range(3):
        move(lot, -1, StockEntry.GIVEN, by=by, key=f"out {number}")
    assert left(lot) == 0
    with pytest.raises(RefusedError, match="1 wanted, 0 left"):
        move(lot, -1, StockEntry.GIVEN, by=by, key="one too many")
    assert left(lot) == 0


def test_more_than_is_there_takes_nothing(lot: Lot, people: Any) -> None:
    with pytest.raises(RefusedError):
        move(lot, -4, StockEntry.WASTED, by=people["vaccinator"], key="out")
    assert left(lot) == 3


def test_the_database_refuses_a_negative_count(lot: Lot) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Lot.objects.filter(pk=lot.pk).update(doses_left=-1)


def test_the_same_press_moves_once(lot: Lot, people: Any) -> None:
    first = move(lot, -1, StockEntry.GIVEN, by=people["vaccinator"], key="press")
    again = move(lot, -1, StockEntry.GIVEN, by=people["vaccinator"], key="press")
    assert first.pk == again.pk
    assert left(lot) == 2


@pytest.mark.parametrize(("found", "delta"), [(5, 2), (1, -2), (0, -3)])
def test_a_count_is_an_entry_of_the_difference(
    lot: Lot, people: Any, found: int, delta: int
) -> None:
    entry = count_again(lot, found, by=people["vaccinator"], key="count")
    assert entry is not None
    assert entry.delta == delta
    assert left(lot) == found


def test_a_count_that_agrees_writes_nothing(lot: Lot, people: Any) -> None:
    assert count_again(lot, 3, by=people["vaccinator"], key="count") is None


def test_a_dose_leaves_its_open_vial_too(lot: Lot, people: Any) -> None:
    now = timezone.now()
    vial = OpenVial.objects.create(
        lot=lot, opened_at=now, discard_at=now + timedelta(hours=6), doses_left=1
    )
    move(lot, -1, StockEntry.GIVEN, by=people["vaccinator"], key="a", vial=vial.pk)
    vial.refresh_from_db()
    assert (vial.doses_left, left(lot)) == (0, 2)
    assert vial.closed_at is not None
    with pytest.raises(RefusedError):
        move(lot, -1, StockEntry.GIVEN, by=people["vaccinator"], key="b", vial=vial.pk)
    assert left(lot) == 2
