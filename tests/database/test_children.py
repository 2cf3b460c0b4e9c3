"""A child by hand: faults on their field, two people at one record, past doses in and out."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.utils import timezone

from traywise.workbench.audit.models import AuditEntry
from traywise.workbench.children.models import ChildRecord

pytestmark = pytest.mark.django_db
FACTS = {"id": "h1", "name": "Hale Invented", "born": "2026-01-05", "sex": "F", "weight_kg": "7.1"}


@pytest.fixture
def desk(as_role: Callable[[str], Any]) -> Any:
    return as_role("reception")


@pytest.fixture
def child(desk: Any) -> ChildRecord:
    desk.post("/children/new/", FACTS)
    return ChildRecord.objects.get()


def facts(child: ChildRecord, **changes: str) -> dict[str, str]:
    return FACTS | {"version": str(child.version)} | changes


def test_a_child_typed_by_hand_is_on_record(child: ChildRecord) -> None:
    read = child.read()
    assert (read.name, read.born, read.weight_kg) == ("Hale Invented", date(2026, 1, 5), 7.1)


@pytest.mark.parametrize(
    ("field", "typed"),
    [("weight_kg", "7100"), ("born", "2099-01-01"), ("gestation_weeks", "400"), ("id", "")],
)
def test_a_fault_stands_at_its_field_and_what_was_typed_stays(
    desk: Any, field: str, typed: str
) -> None:
    response = desk.post("/children/new/", FACTS | {field: typed})
    assert not ChildRecord.objects.exists()
    assert field in response.context["form"].errors
    assert FACTS["name"] in response.content.decode()


def test_empty_stays_unknown(desk: Any) -> None:
    desk.post("/children/new/", FACTS | {"sex": "", "weight_kg": ""})
    read = ChildRecord.objects.get().read()
    assert (read.sex, read.weight_kg) == (None, None)


def test_of_two_who_change_at_once_the_second_looks_again(desk: Any, child: ChildRecord) -> None:
    path = f"/child/{child.pk}/edit/"
    first, second = facts(child, weight_kg="7.3"), facts(child, weight_kg="7.9")
    assert desk.post(path, first).status_code == 302
    late = desk.post(path, second)
    assert late.status_code == 409
    assert 'value="7.9"' in late.content.decode()
    assert ChildRecord.objects.get().read().weight_kg == 7.3


def test_conditions_are_chosen_from_the_list_and_keep_their_dates(
    desk: Any, child: ChildRecord
) -> None:
    child.record["conditions"] = [{"key": "asthma", "from": "2026-02-01"}]
    child.save()
    chosen = facts(child) | {"conditions": ["asthma", "hiv"]}
    desk.post(f"/child/{child.pk}/edit/", chosen)
    found = {c.key: c.since for c in ChildRecord.objects.get().read().conditions}
    assert found == {"asthma": date(2026, 2, 1), "hiv": None}


def test_a_past_dose_goes_in_by_name_or_code_and_out_again(desk: Any, child: ChildRecord) -> None:
    path = f"/child/{child.pk}/past-dose/"
    desk.post(path, {"vaccine": "110", "on": "2026-03-05", "lot": ""})
    desk.post(path, {"vaccine": "MMR", "on": "2026-04-05", "lot": "X1"})
    child.refresh_from_db()
    assert [dose.cvx for dose in child.read().doses] == ["110", "03"]
    form = {"version": str(child.version)}
    desk.post(f"{path}0/remove/", {"version": "0"})
    desk.post(f"{path}7/remove/", form)
    child.refresh_from_db()
    assert len(child.read().doses) == 2
    desk.post(f"{path}0/remove/", form)
    child.refresh_from_db()
    assert [dose.cvx for dose in child.read().doses] == ["03"]
    assert AuditEntry.objects.filter(did="took out a past dose", detail__contains="110").exists()


@pytest.mark.parametrize(("typed", "kept"), [("", None), ("yes", True), ("no", False)])
def test_a_past_dose_says_whether_it_was_given_in_a_campaign(
    desk: Any, child: ChildRecord, typed: str, kept: bool | None
) -> None:
    form = {"vaccine": "110", "on": "2026-03-05", "lot": "", "campaign": typed}
    desk.post(f"/child/{child.pk}/past-dose/", form)
    child.refresh_from_db()
    assert [dose.campaign for dose in child.read().doses] == [kept]
    page = desk.get(f"/child/{child.pk}/").content.decode()
    assert ("given in a campaign" in page) == (kept is True)
    told = AuditEntry.objects.get(did="added a past dose").detail
    said = {None: "", True: ", given in a campaign", False: ", not in a campaign"}[kept]
    assert told == f"CVX 110 on 2026-03-05{said}"


@pytest.mark.parametrize(
    ("vaccine", "on", "field"),
    [("not a vaccine", "2026-03-05", "vaccine"), ("110", "2025-12-31", "on")],
)
def test_an_impossible_past_dose_is_refused_at_its_field(
    desk: Any, child: ChildRecord, vaccine: str, on: str, field: str
) -> None:
    response = desk.post(f"/child/{child.pk}/past-dose/", {"vaccine": vaccine, "on": on})
    assert field in response.context["form"].errors
    child.refresh_from_db()
    assert child.read().doses == ()


def test_a_look_at_a_child_is_written_down_once_in_five_minutes(
    desk: Any, child: ChildRecord
) -> None:
    for _ in range(3):
        desk.get(f"/child/{child.pk}/")
    seen = AuditEntry.objects.filter(did="saw the child", child="h1", who="reception")
    assert seen.count() == 1


def test_a_search_finds_by_name_id_and_birth_date(desk: Any, child: ChildRecord) -> None:
    for text, found in (("hale", 1), ("H1", 1), ("2026-01-05", 1), ("nobody", 0)):
        page = desk.get("/children/", {"q": text}).context["page"]
        assert len(page.object_list) == found


def test_a_record_brought_back_under_its_old_number_is_asked_anew(
    desk: Any, child: ChildRecord
) -> None:
    """As after a restore: the same row and version, other content."""
    form = {"vaccine": "110", "on": "2026-03-05", "lot": "", "campaign": ""}
    desk.post(f"/child/{child.pk}/past-dose/", form)
    assert "2026-03-05" in desk.get(f"/child/{child.pk}/").content.decode()
    child.refresh_from_db()
    other = child.record | {"doses": [{"on": "2026-03-09", "cvx": "110"}]}
    ChildRecord.objects.filter(pk=child.pk).update(record=other, updated_at=timezone.now())

    page = desk.get(f"/child/{child.pk}/").content.decode()

    history = page[page.index("<h2>History</h2>") :]
    assert "2026-03-09" in history
    assert "2026-03-05" not in history[: history.index("</section>")]
