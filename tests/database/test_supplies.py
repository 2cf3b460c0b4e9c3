"""Boxes of needles, syringes and the rest: counted with their expiry, not laid ready after it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone

from traywise.workbench.asking.trays import planned, stock_now
from traywise.workbench.audit.models import AuditEntry
from traywise.workbench.day.models import Appointment
from traywise.workbench.giving.visit import whole_visit
from traywise.workbench.shelf.models import Supply

pytestmark = pytest.mark.django_db
NEEDLE = {"item": "needle", "gauge": "25", "length_mm": "25", "volume_ml": "", "count": "9"}


@pytest.fixture
def desk(as_role: Callable[[str], Any]) -> Any:
    return as_role("vaccinator")


def in_days(days: int) -> date:
    return timezone.localdate() + timedelta(days=days)


@pytest.mark.parametrize(
    ("typed", "kept"),
    [("2027-03", date(2027, 3, 31)), ("2027-03-14", date(2027, 3, 14)), ("", None)],
)
def test_a_box_is_counted_with_its_last_day(desk: Any, typed: str, kept: date | None) -> None:
    assert desk.post("/shelf/supply/", NEEDLE | {"expires": typed}).status_code == 302
    row = Supply.objects.get()
    assert (row.count, row.expires) == (9, kept)
    detail = AuditEntry.objects.get(did="counted supplies").detail
    assert detail == f"needle 25 G × 25 mm{f', use by {kept}' if kept else ''}: 9"
    page = desk.get(f"/shelf/supply/{row.pk}/").content.decode()
    assert not kept or f'value="{kept}"' in page


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"expires": "2027"}, "expires"),
        ({"expires": "2027", "gauge": "3"}, "gauge"),
        ({"expires": "2027", "gauge": "3"}, "expires"),
        ({"expires": "2027-13"}, "expires"),
        ({"gauge": ""}, "gauge"),
        ({"gauge": "16", "length_mm": "1"}, "length_mm"),
        ({"volume_ml": "1"}, "volume_ml"),
        ({"item": "wipe", "length_mm": ""}, "gauge"),
    ],
)
def test_a_slip_is_told_at_its_field_and_what_was_typed_stays(
    desk: Any, typed: dict[str, str], field: str
) -> None:
    response = desk.post("/shelf/supply/", NEEDLE | {"expires": "2031-05"} | typed)
    assert field in response.context["form"].errors
    assert not Supply.objects.exists()
    shown = response.content.decode()
    assert f'value="{typed.get("expires", "2031-05")}"' in shown


@pytest.mark.parametrize(
    ("days", "count", "words"),
    [
        (-1, 5, "■ expired: take it out"),
        (0, 5, "▲ last day today"),
        (1, 5, "▲ 1 day left"),
        (30, 5, "▲ 30 days left"),
        (31, 5, ""),
        (30, 0, "◇ none left"),
    ],
)
def test_the_shelf_warns_before_a_box_expires(desk: Any, days: int, count: int, words: str) -> None:
    Supply.objects.create(item="syringe", volume_ml=1, count=count, expires=in_days(days))
    page = desk.get("/shelf/").content.decode()
    assert f"use by {in_days(days)}" in page
    marks = [mark for mark in ("■ ", "▲ ", "◇ ") if mark in page]
    assert (words in page) if words else not marks


def test_an_expired_box_that_is_gone_is_shown_only_when_all_is_asked_for(desk: Any) -> None:
    Supply.objects.create(item="gloves", count=0, expires=in_days(-1))
    assert "gloves" not in desk.get("/shelf/").content.decode()
    assert "gloves" in desk.get("/shelf/?all=1").content.decode()


def test_the_list_is_narrowed_to_one_kind(desk: Any) -> None:
    Supply.objects.create(item="needle", gauge=23, length_mm=25, count=3)
    Supply.objects.create(item="wipe", count=7)
    for asked, shown in (
        ("needle", ["needle"]),
        ("", ["needle", "wipe"]),
        ("x", ["needle", "wipe"]),
    ):
        context = desk.get("/shelf/", {"item": asked}).context
        assert [line["supply"].item for line in context["supplies"]] == shown
        assert context["kinds"] == ["needle", "wipe"]


def needles_of(visit: Appointment) -> set[int]:
    places = planned(whole_visit(visit.pk)).tray.tray
    return {place.needle.length_mm for place in places if place.needle}


def test_expired_needles_are_not_laid_ready(desk: Any, demo: dict[str, Appointment]) -> None:
    """Odile, 4 months: 25 mm in the thigh (ACIP, Table 6-2); 16 mm for no place of her tray."""
    visit = demo["Odile Fenwright"]
    row = Supply.objects.get(item="needle", gauge=23, length_mm=25)
    Supply.objects.exclude(pk=row.pk).filter(item="needle").delete()
    for days, laid in ((None, {25}), (0, {25}), (-1, set())):
        row.expires = None if days is None else in_days(days)
        row.save()
        assert needles_of(visit) == laid
        page = desk.get(f"/visit/{visit.pk}/tray/").content.decode()
        assert (f"What lies there expired on {in_days(-1)}" in page) == (days == -1)
        assert (f"expires {in_days(0)}" in page) == (days == 0)


def test_the_box_that_expires_first_is_laid_first(demo: dict[str, Appointment]) -> None:
    visit = demo["Odile Fenwright"]
    Supply.objects.filter(item="needle").delete()
    for days, count in ((400, 50), (20, 1)):
        Supply.objects.create(
            item="needle", gauge=23, length_mm=25, count=count, expires=in_days(days)
        )
    assert {supply.expires for supply in stock_now().supplies or ()} >= {in_days(20), in_days(400)}
    laid = [s for s in planned(whole_visit(visit.pk)).tray.supplies if s.item == "needle"]
    assert {s.expires: s.count for s in laid}[in_days(20)] == 1
