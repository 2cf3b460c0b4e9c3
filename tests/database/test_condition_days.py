"""A condition's first and last day: typed, corrected, refused at the field, shown, brought in."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from traywise.exchange.fhir.write_record import record_resources
from traywise.record.child import Child, Condition
from traywise.record.read_json import read_children
from traywise.rulebook.conditions import conditions
from traywise.workbench.asking.answers import answer_for
from traywise.workbench.audit.models import AuditEntry
from traywise.workbench.children.condition_days import changes_in_words, line_of, meaning_of
from traywise.workbench.children.merging import merge_children
from traywise.workbench.children.models import ChildRecord, DraftRow, new_child
from traywise.workbench.day.models import Appointment

pytestmark = pytest.mark.django_db
FACTS = {"id": "d1", "name": "Dorrit Invented", "born": "2012-03-04", "sex": "F"}
TRANSPLANT = "haematopoietic-transplant"
BASE = Child(id="d1", name="Dorrit Invented", born=date(2012, 3, 4), sex="F")


@pytest.fixture
def desk(as_role: Callable[[str], Any]) -> Any:
    return as_role("vaccinator")


@pytest.fixture
def child(desk: Any) -> ChildRecord:
    return new_child(BASE)


def send(desk: Any, child: ChildRecord, ticked: list[str], **days: str) -> Any:
    """The form as a browser sends it: what is ticked, and every day field that it showed."""
    path = f"/child/{child.pk}/edit/"
    form = desk.get(path).context["form"]
    shown = {name: "" for name in form.fields if name.startswith(("from-", "until-"))}
    child.refresh_from_db()
    typed = {name.replace("__", "-", 1).replace("_", "-"): day for name, day in days.items()}
    sent = FACTS | {"version": str(child.version), "conditions": ticked} | shown | typed
    return desk.post(path, sent)


def kept(child: ChildRecord) -> tuple[Condition, ...]:
    child.refresh_from_db()
    return child.read().conditions


@pytest.mark.parametrize(
    ("since", "until"),
    [("2026-01-02", ""), ("", "2026-02-03"), ("2026-01-02", "2026-02-03"), ("", "")],
)
def test_days_are_kept_as_typed_and_empty_stays_unknown(
    desk: Any, child: ChildRecord, since: str, until: str
) -> None:
    days = {"from__chemotherapy": since, "until__chemotherapy": until}
    assert send(desk, child, ["chemotherapy"], **days).status_code == 302
    read = [date.fromisoformat(day) if day else None for day in (since, until)]
    assert kept(child) == (Condition(key="chemotherapy", since=read[0], until=read[1]),)


def test_days_are_corrected_cleared_and_taken_out_and_the_trail_keeps_what_was(
    desk: Any, child: ChildRecord
) -> None:
    send(desk, child, [TRANSPLANT], from__haematopoietic_transplant="2026-01-02")
    send(desk, child, [TRANSPLANT], from__haematopoietic_transplant="2026-01-12")
    send(desk, child, [TRANSPLANT])
    assert kept(child) == (Condition(key=TRANSPLANT),)
    send(desk, child, [])
    assert kept(child) == ()
    told = AuditEntry.objects.filter(did="changed a condition", child="d1").order_by("number")
    assert [entry.detail for entry in told] == [
        f"{TRANSPLANT}: from 2026-01-02, new",
        f"{TRANSPLANT}: from 2026-01-12, was: from 2026-01-02",
        f"{TRANSPLANT}: days not known, was: from 2026-01-12",
        f"{TRANSPLANT}: taken out, was: days not known",
    ]


@pytest.mark.parametrize(
    ("days", "field"),
    [
        ({"from__pregnant": "2026-05-02", "until__pregnant": "2026-05-01"}, "until-pregnant"),
        ({"from__pregnant": "soon"}, "from-pregnant"),
        ({"from__pregnant": "1026-05-02"}, "from-pregnant"),
        # Typed beside a condition that is not ticked.
        ({"until__chemotherapy": "2026-05-01"}, "until-chemotherapy"),
    ],
)
def test_a_fault_stands_at_its_day_and_all_that_was_typed_stays(
    desk: Any, child: ChildRecord, days: dict[str, str], field: str
) -> None:
    response = send(desk, child, ["pregnant", "asthma"], **days)
    assert list(response.context["form"].errors) == [field]
    assert kept(child) == ()
    page = response.content.decode()
    assert f'<a href="#id_{field}">' in page
    assert all(f'value="{day}"' in page for day in days.values())
    for key in ("pregnant", "asthma"):
        assert re.search(f'value="{key}" checked', page)


def test_the_same_day_first_and_last_is_no_fault(desk: Any, child: ChildRecord) -> None:
    same = {"from__radiotherapy": "2026-05-02", "until__radiotherapy": "2026-05-02"}
    assert send(desk, child, ["radiotherapy"], **same).status_code == 302


def test_two_times_of_one_condition_are_two_and_neither_is_lost(
    desk: Any, child: ChildRecord
) -> None:
    send(desk, child, ["chemotherapy"], from__chemotherapy="2024-01-01")
    first, second = "chemotherapy", "chemotherapy.2"
    days = {"from__chemotherapy": "2024-01-01", "until__chemotherapy": "2024-06-01"}
    days["from__chemotherapy.2"] = "2026-03-01"
    send(desk, child, [first, second], **days)
    both = kept(child)
    assert [(c.since, c.until) for c in both] == [
        (date(2024, 1, 1), date(2024, 6, 1)),
        (date(2026, 3, 1), None),
    ]
    days["until__chemotherapy.2"] = "2026-02-01"
    form = send(desk, child, [first, second], **days).context["form"]
    assert list(form.errors) == ["until-chemotherapy.2"]


def test_what_an_import_brought_that_no_rule_knows_stays_on_record(desk: Any) -> None:
    odd = Condition(key="left-handed", since=date(2020, 1, 1))
    child = new_child(Child(**(_fields(BASE) | {"conditions": (odd,)})))
    send(desk, child, ["left-handed", "asthma"], from__left_handed="2020-01-01")
    assert kept(child) == (odd, Condition(key="asthma"))


def _fields(child: Child) -> dict[str, Any]:
    return {name: getattr(child, name) for name in child.__struct_fields__}


def test_what_somebody_else_entered_meanwhile_is_shown_and_not_lost(
    desk: Any, child: ChildRecord
) -> None:
    path = f"/child/{child.pk}/edit/"
    form = desk.get(path).context["form"]
    shown = {name: "" for name in form.fields if name.startswith(("from-", "until-"))}
    mine = FACTS | {"version": str(child.version), "conditions": ["pregnant"]} | shown
    mine["from-pregnant"] = "2026-05-05"
    send(desk, child, ["asthma"], from__asthma="2020-02-02")
    send(desk, child, ["asthma"], from__asthma="2020-02-02")
    late = desk.post(path, mine)
    assert late.status_code == 409
    page = late.content.decode()
    assert "Conditions on record now: Asthma, from 2020-02-02" in page
    assert 'value="2026-05-05"' in page
    child.refresh_from_db()
    again = mine | {"version": str(child.version)}
    assert desk.post(path, again).status_code == 302
    assert [(c.key, c.since) for c in kept(child)] == [
        ("asthma", date(2020, 2, 2)),
        ("pregnant", date(2026, 5, 5)),
    ]


def test_a_new_child_takes_days_too(desk: Any) -> None:
    days = {"from-pregnant": "2026-05-05", "until-pregnant": ""}
    desk.post("/children/new/", FACTS | {"conditions": ["pregnant"]} | days)
    found = ChildRecord.objects.get().read().conditions
    assert found == (Condition(key="pregnant", since=date(2026, 5, 5)),)


def test_labels_are_the_rulebooks_words(desk: Any, child: ChildRecord) -> None:
    form = desk.get(f"/child/{child.pk}/edit/").context["form"]
    assert form.fields["from-pregnant"].label.startswith("From: first day of the last period")
    assert form.fields["until-pregnant"].label == "Until: expected day of birth"
    assert form.fields["from-anti-b-cell"].label == "From"
    for row in conditions().values():
        if row.name != row.text:
            assert any(meaning_of(row)), row.key


def test_the_childs_page_shows_days_and_names_the_one_that_is_wanted(
    desk: Any, child: ChildRecord
) -> None:
    send(desk, child, [TRANSPLANT, "pregnant"], from__pregnant="2026-05-05")
    page = desk.get(f"/child/{child.pk}/").content.decode()
    assert "<b>Pregnant</b>, from 2026-05-05" in page
    assert "Stem-cell transplant</b>, days not known" in page
    assert "Not entered: the day of it" in page


@pytest.mark.parametrize(
    ("condition", "days", "is_over"),
    [
        (Condition(key="chemotherapy", until=date(2026, 11, 24)), "until 2026-11-24", True),
        (Condition(key="chemotherapy", until=date(2026, 11, 25)), "until 2026-11-25", False),
        (Condition(key="asthma"), "days not known", False),
        (
            Condition(key="pregnant", since=date(2026, 5, 20)),
            "from 2026-05-20, 27 weeks + 0 days",
            False,
        ),
        (Condition(key="asthma", since=date(2026, 11, 26)), "from 2026-11-26", False),
    ],
)
def test_a_line_says_the_days_and_whether_it_is_over(
    condition: Condition, days: str, is_over: bool
) -> None:
    line = line_of(condition, date(2026, 11, 25))
    assert (line.days, line.is_over) == (days, is_over)


def test_a_day_that_is_entered_lets_the_schedule_count(desk: Any, child: ChildRecord) -> None:
    """CDC notes on Hib after a stem-cell transplant: from 6 months after it on."""
    today = timezone.localdate()
    send(desk, child, [TRANSPLANT])
    child.refresh_from_db()
    before = answer_for(child, today).groups["Hib"]
    send(desk, child, [TRANSPLANT], from__haematopoietic_transplant="2026-01-02")
    child.refresh_from_db()
    after = answer_for(child, today).groups["Hib"]
    assert before.status != after.status
    assert after.earliest == date(2026, 7, 2)


def test_a_roster_in_json_and_one_in_fhir_bring_the_days_along(desk: Any) -> None:
    since, until = date(2026, 1, 2), date(2026, 3, 4)
    dated = Condition(key="chemotherapy", since=since, until=until)
    child = Child(**(_fields(BASE) | {"conditions": (dated,)}))
    ours = json.dumps(
        {**FACTS, "conditions": [{"key": dated.key, "from": str(since), "until": str(until)}]}
    )
    entries = [{"resource": resource} for resource in record_resources(child)]
    bundle = json.dumps({"resourceType": "Bundle", "type": "collection", "entry": entries})
    for name, text in (("r.json", ours), ("r.fhir.json", bundle)):
        for model in (DraftRow, Appointment, ChildRecord):
            model.objects.all().delete()
        file = SimpleUploadedFile(name, text.encode())
        desk.post(f"/day/{timezone.localdate()}/roster/", {"file": file})
        found = ChildRecord.objects.get()
        assert found.read().conditions == (dated,), name
        again = read_children(json.dumps(found.record), "kept").entries[0].child
        assert again is not None
        assert again.conditions == (dated,)


JAN, MAR, MAY = date(2026, 1, 1), date(2026, 3, 1), date(2026, 5, 1)


@pytest.mark.parametrize(
    ("kept_days", "came_days", "joined"),
    [
        ((None, None), (JAN, None), [(JAN, None)]),
        ((JAN, None), (None, None), [(JAN, None)]),
        ((JAN, None), (None, MAR), [(JAN, MAR)]),
        ((JAN, MAR), (JAN, MAR), [(JAN, MAR)]),
        ((JAN, None), (MAY, None), [(JAN, None), (MAY, None)]),
        ((MAR, None), (None, JAN), [(MAR, None), (None, JAN)]),
    ],
)
def test_an_import_fills_in_a_day_and_never_hides_one(
    kept_days: tuple[date | None, date | None],
    came_days: tuple[date | None, date | None],
    joined: list[tuple[date | None, date | None]],
) -> None:
    def with_days(days: tuple[date | None, date | None]) -> Child:
        one = Condition(key="chemotherapy", since=days[0], until=days[1])
        return Child(**(_fields(BASE) | {"conditions": (one,)}))

    found = merge_children(with_days(kept_days), with_days(came_days)).conditions
    assert [(c.since, c.until) for c in found] == joined


def test_what_did_not_change_is_not_told() -> None:
    one = Condition(key="asthma", since=JAN)
    assert changes_in_words((one,), (one,)) == []
