"""At the chairside: the right thing is recorded once, a mismatch stops, corrections add up."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from traywise.paper.label_code import LabelCode
from traywise.workbench.asking.trays import plan_day_together
from traywise.workbench.audit.chain import find_break
from traywise.workbench.audit.models import AuditEntry
from traywise.workbench.day.models import Appointment
from traywise.workbench.giving.models import LaidTray, ScreeningAnswer
from traywise.workbench.ledger.models import LedgerEntry
from traywise.workbench.shelf.models import Lot, OpenVial
from traywise.workbench.shelf.stock import sum_of_entries

pytestmark = pytest.mark.django_db


@pytest.fixture
def nurse(as_role: Callable[[str], Any]) -> Any:
    return as_role("vaccinator")


class Chair:
    """One visit, brought to the point where its first place is to be given."""

    def __init__(self, client: Any, visit: Appointment):
        self.client, self.visit = client, visit
        client.post(f"/visit/{visit.pk}/step/arrive/")
        for _ in range(6):  # an answer can open a further question
            if not self.open_questions():
                break
            client.post(f"/visit/{visit.pk}/screen/", {"all": "no"})
        self.response = client.post(f"/visit/{visit.pk}/start/")

    def open_questions(self) -> bool:
        page = self.client.get(f"/visit/{self.visit.pk}/screen/").content
        return b"No to all" in page

    @property
    def laid(self) -> LaidTray:
        found = LaidTray.objects.filter(visit=self.visit).first()
        assert found is not None
        return found

    @property
    def places(self) -> list[dict[str, Any]]:
        places: list[dict[str, Any]] = self.laid.tray["tray"]
        return places

    def send(
        self, n: int, scan: str, *, confirm: bool = False, client: Any = None, **more: str
    ) -> Any:
        form = {"place": str(n), "laid": str(self.laid.pk), "scan": scan, **more}
        if confirm:
            form["confirm"] = "yes"
        return (client or self.client).post(f"/visit/{self.visit.pk}/give/", form)

    def give_all(self) -> None:
        for place in self.places:
            self.send(place["n"], place["lot"], confirm=True)


@pytest.fixture
def chair(nurse: Any, demo: Any) -> Chair:
    return Chair(nurse, demo["Odile Fenwright"])


def given() -> list[str]:
    return [e.body["lot"] for e in LedgerEntry.objects.filter(kind="given").order_by("number")]


def stops(response: Any) -> list[str]:
    return [stop.code for stop in response.context["stops"]]


def gs1(lot: Lot, *, expires: str | None = None) -> str:
    return f"]d201{lot.gtin}17{expires or lot.expires.strftime('%y%m%d')}10{lot.lot}"


def test_screening_answers_are_kept_with_name_and_time(chair: Chair) -> None:
    answers = ScreeningAnswer.objects.filter(visit=chair.visit)
    assert answers.count() >= 2
    assert {a.by.username for a in answers} == {"vaccinator"}
    assert {a.answer for a in answers} == {"no"}


def test_giving_waits_for_the_open_questions(nurse: Any, demo: Any) -> None:
    visit = demo["Odile Fenwright"]
    assert nurse.post(f"/visit/{visit.pk}/start/").headers["Location"].endswith("/screen/")
    assert not LaidTray.objects.exists()


def test_an_answer_changes_what_is_not_given(nurse: Any, demo: Any) -> None:
    visit = demo["Odile Fenwright"]
    nurse.post(f"/visit/{visit.pk}/screen/", {"key": "intussusception", "answer": "yes"})
    tray = nurse.get(f"/visit/{visit.pk}/tray/").context["tray"]
    assert "RV" not in {group for place in tray.tray for group in place.groups}
    assert "RV" in {item.group for item in tray.not_today}


def test_every_place_scanned_and_confirmed_is_in_the_ledger_once(chair: Chair) -> None:
    before = {lot.lot: lot.doses_left for lot in Lot.objects.all()}
    for place in chair.places:
        lot = Lot.objects.get(lot=place["lot"])
        shown = chair.send(place["n"], gs1(lot))
        assert stops(shown) == []
        assert LedgerEntry.objects.count() == place["n"] - 1  # a scan alone records nothing
        chair.send(place["n"], gs1(lot), confirm=True)
    assert given() == [place["lot"] for place in chair.places]
    for lot in Lot.objects.filter(lot__in=given()):
        assert lot.doses_left == before[lot.lot] - 1 == sum_of_entries(lot)
    chair.visit.refresh_from_db()
    assert chair.visit.state == "watched"
    assert find_break(LedgerEntry) is None


def test_a_repeated_press_records_once(chair: Chair) -> None:
    first = chair.places[0]
    for _ in range(3):
        response = chair.send(1, first["lot"], confirm=True)
        assert response.status_code == 302
    assert given() == [first["lot"]]


def test_a_page_left_open_gives_nothing_else(chair: Chair) -> None:
    chair.send(1, chair.places[0]["lot"], confirm=True)
    chair.send(1, chair.places[1]["lot"], confirm=True)  # the old page, another vial
    assert given() == [chair.places[0]["lot"]]


@pytest.mark.parametrize(
    ("make", "code", "passed_by"),
    [
        ("another product", "giving.S011", "coordinator"),
        ("another lot", "giving.S012", "vaccinator"),
        ("expired", "giving.S014", "coordinator"),
        ("set apart", "giving.S014", "coordinator"),
        ("past its discard time", "giving.S015", "coordinator"),
        ("other expiry on the vial", "giving.S013", "coordinator"),
        ("unknown lot", "giving.S010", None),
        ("empty", "giving.S014", None),
        ("label of another child", "giving.S001", None),
        ("not due any more", "giving.S021", "coordinator"),
        ("too old", "giving.S02", "coordinator"),
    ],
)
def test_a_mismatch_stops_with_its_reason_and_only_who_may_passes_it(
    chair: Chair, as_role: Callable[[str], Any], make: str, code: str, passed_by: str | None
) -> None:
    n, scan = spoil(chair, make)
    before = LedgerEntry.objects.count()
    shown = chair.send(n, scan)
    assert shown.status_code == 409
    assert any(found.startswith(code) for found in stops(shown)), stops(shown)
    chair.send(n, scan, confirm=True)
    chair.send(n, scan, confirm=True, reason="no")  # too short to be a reason
    assert LedgerEntry.objects.count() == before
    chair.send(n, scan, confirm=True, reason="agreed with the physician")
    by_nurse = LedgerEntry.objects.count() - before
    assert by_nurse == (1 if passed_by == "vaccinator" else 0)
    boss = as_role("coordinator")
    chair.send(n, scan, confirm=True, reason="agreed with the physician", client=boss)
    assert LedgerEntry.objects.count() - before == (0 if passed_by is None else 1)
    if passed_by is not None:
        entry = LedgerEntry.objects.latest("number")
        assert entry.body["reason"] == "agreed with the physician"
        assert any(passed["code"].startswith(code) for passed in entry.body["passed"])
        assert AuditEntry.objects.filter(did="gave a dose past a stop").exists()


def spoil(chair: Chair, make: str) -> tuple[int, str]:
    """Bring about one mismatch at the second place; what is then scanned there."""
    chair.send(1, chair.places[0]["lot"], confirm=True)
    place = chair.places[1]
    lot = Lot.objects.get(lot=place["lot"])
    today = timezone.localdate()
    if make == "another product":
        return 2, "HA6105"
    if make == "another lot":
        lot.pk, lot.lot, lot.doses_left = None, "HX7002", 5
        lot.save()
        return 2, "hx7002"
    if make == "expired":
        Lot.objects.filter(pk=lot.pk).update(expires=today - timedelta(days=1))
    if make == "set apart":
        Lot.objects.filter(pk=lot.pk).update(quarantined="warm for an hour")
    if make == "past its discard time":
        early = timezone.now() - timedelta(hours=2)
        OpenVial.objects.create(
            lot=lot, opened_at=early, discard_at=early + timedelta(hours=1), doses_left=1
        )
    if make == "other expiry on the vial":
        return 2, gs1(lot, expires=(lot.expires - timedelta(days=40)).strftime("%y%m%d"))
    if make == "unknown lot":
        return 2, "ZZ0001"
    if make == "empty":
        Lot.objects.filter(pk=lot.pk).update(doses_left=0)
    if make == "label of another child":
        return 2, LabelCode(child="demo-kestrel", place=2, cvx=lot.cvx, lot=lot.lot).text()
    record = chair.visit.child
    if make == "not due any more":
        # The same dose was given elsewhere a week ago and became known while the tray lay ready.
        week = (today - timedelta(days=7)).isoformat()
        record.record["doses"].append({"on": week, "cvx": lot.cvx})
        record.version += 1
        record.save()
    if make == "too old":
        record.record["born"] = (today - timedelta(days=365 * 9)).isoformat()
        record.version += 1
        record.save()
    return 2, lot.lot


def test_our_own_label_is_right_for_its_child(chair: Chair) -> None:
    place = chair.places[0]
    label = LabelCode(
        child=chair.visit.child.record_id, place=1, cvx=place["cvx"], lot=place["lot"]
    )
    assert stops(chair.send(1, label.text())) == []


def test_a_vial_scanned_instead_of_the_press_confirms_nothing(chair: Chair) -> None:
    """A scanner ends with Enter, and Enter may press the button that has been offered."""
    form = {"another": chair.places[1]["lot"]}
    shown = chair.send(1, chair.places[0]["lot"], confirm=True, **form)
    assert "giving.S011" in stops(shown)
    assert given() == []
    right = chair.send(1, chair.places[1]["lot"], confirm=True, another=chair.places[0]["lot"])
    assert stops(right) == []
    assert given() == []


@pytest.mark.parametrize("scan", ["", "   ", "]d2", "(01)123", "what is this ?!", "01" + "9" * 14])
def test_an_unreadable_scan_says_so_and_records_nothing(chair: Chair, scan: str) -> None:
    response = chair.send(1, scan, confirm=True)
    assert response.status_code == 200
    assert response.context["fault"]
    assert given() == []


def test_yesterdays_tray_gives_nothing_today(chair: Chair) -> None:
    day = timezone.localdate() - timedelta(days=1)
    Appointment.objects.filter(pk=chair.visit.pk).update(day=day)
    assert "giving.S020" in stops(chair.send(1, chair.places[0]["lot"]))


def test_an_undone_dose_goes_back_and_can_be_given_again(chair: Chair) -> None:
    place = chair.places[0]
    lot = Lot.objects.get(lot=place["lot"])
    full = lot.doses_left
    chair.send(1, place["lot"], confirm=True)
    entry = LedgerEntry.objects.get()
    for _ in range(2):  # the press repeated
        chair.client.post(
            f"/ledger/{entry.pk}/undo/",
            {"reason": "the child turned away", "back_on_shelf": "on", "key": "k1"},
        )
    lot.refresh_from_db()
    assert lot.doses_left == full == sum_of_entries(lot)
    assert LedgerEntry.objects.count() == 2
    chair.send(1, place["lot"], confirm=True)
    assert given() == [place["lot"], place["lot"]]
    lot.refresh_from_db()
    assert lot.doses_left == full - 1 == sum_of_entries(lot)


def test_a_dose_drawn_up_and_not_given_is_wasted_not_returned(chair: Chair) -> None:
    place = chair.places[0]
    lot = Lot.objects.get(lot=place["lot"])
    full = lot.doses_left
    chair.send(1, place["lot"], confirm=True)
    entry = LedgerEntry.objects.get()
    chair.client.post(f"/ledger/{entry.pk}/undo/", {"reason": "dropped on the floor"})
    lot.refresh_from_db()
    assert lot.doses_left == full - 1 == sum_of_entries(lot)
    assert lot.entries.first().reason == "wasted"


def test_a_corrected_lot_moves_the_stock_of_both(chair: Chair) -> None:
    chair.send(1, chair.places[0]["lot"], confirm=True)
    entry = LedgerEntry.objects.get()
    old = Lot.objects.get(lot=chair.places[0]["lot"])
    other = Lot.objects.get(lot="HB5512")
    full, was = other.doses_left, old.doses_left
    form = {
        "on": timezone.localdate().isoformat(),
        "lot": "hb5512",
        "route": "PO",
        "site": "",
        "volume_ml": "1.5",
        "full": "",
        "reason": "read from the box",
    }
    chair.client.post(f"/ledger/{entry.pk}/change/", form)
    old.refresh_from_db()
    other.refresh_from_db()
    assert (old.doses_left, other.doses_left) == (was + 1, full - 1)
    assert sum_of_entries(old) == old.doses_left
    page = chair.client.get(f"/ledger/{entry.pk}/").content.decode()
    assert "As it stands now" in page
    assert "read from the box" in page


def test_what_was_given_counts_at_once_for_the_child(chair: Chair) -> None:
    chair.give_all()
    child = chair.client.get(f"/child/{chair.visit.child.pk}/").context
    assert len(child["history"]) == 5 + len(chair.places)
    assert "RV" not in {group for group, _ in child["due_now"]}


def test_the_visit_goes_on_to_watching_a_reaction_and_leaving(chair: Chair) -> None:
    chair.give_all()
    client, pk = chair.client, chair.visit.pk
    for _ in range(2):
        client.post(f"/visit/{pk}/reaction/", {"what": "pale, sat down", "done": "lay", "key": "r"})
    assert LedgerEntry.objects.filter(kind="reaction").count() == 1
    early = client.post(f"/visit/{pk}/step/leave/")
    assert b"still being watched" in early.content
    Appointment.objects.filter(pk=pk).update(given_at=timezone.now() - timedelta(minutes=15))
    client.post(f"/visit/{pk}/step/leave/")
    chair.visit.refresh_from_db()
    assert chair.visit.state == "left"


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_parents_sheet_is_a_pdf_of_what_was_given(chair: Chair, language: str) -> None:
    chair.give_all()
    response = chair.client.get(f"/visit/{chair.visit.pk}/sheet/{language}/")
    assert response.headers["Content-Type"] == "application/pdf"
    assert response.content.startswith(b"%PDF")
    assert chair.client.get(f"/visit/{chair.visit.pk}/sheet/fr/").status_code == 404


def test_stopping_early_keeps_what_was_given_and_says_why(chair: Chair) -> None:
    chair.send(1, chair.places[0]["lot"], confirm=True)
    chair.client.post(f"/visit/{chair.visit.pk}/stop-here/", {"reason": "no"})
    chair.visit.refresh_from_db()
    assert chair.visit.state == "giving"
    chair.client.post(f"/visit/{chair.visit.pk}/stop-here/", {"reason": "parent wishes to wait"})
    chair.visit.refresh_from_db()
    assert chair.visit.state == "watched"
    assert given() == [chair.places[0]["lot"]]


class TestChangingTheTray:
    def change(self, nurse: Any, visit: Any, n: int, **form: str) -> Any:
        nurse.post(f"/visit/{visit.pk}/change/{n}/", form)
        return nurse.get(f"/visit/{visit.pk}/tray/").context

    def test_a_limb_that_is_not_listed_at_this_age_is_named(self, nurse: Any, demo: Any) -> None:
        context = self.change(nurse, demo["Odile Fenwright"], 2, site="LD")
        assert context["tray"].tray[1].site == "LD"
        assert any("not listed" in text for text in context["breaks"]), context["breaks"]

    def test_a_limb_that_is_free_breaks_nothing(self, nurse: Any, demo: Any) -> None:
        visit = demo["Odile Fenwright"]
        plan = nurse.get(f"/visit/{visit.pk}/tray/").context["tray"].tray
        other = {"LT": "RT", "RT": "LT"}[plan[1].site]
        context = self.change(nurse, visit, 2, site=other)
        sites = [(place.site, place.position) for place in context["tray"].tray[1:]]
        assert sites == [(other, "upper"), (other, "lower")]

    def test_a_needle_outside_the_table_is_named(self, nurse: Any, demo: Any) -> None:
        context = self.change(nurse, demo["Odile Fenwright"], 2, needle="22x38")
        assert any("38 mm is not one of" in text for text in context["breaks"])

    def test_another_product_is_laid_out_anew_and_its_gaps_are_named(
        self, nurse: Any, demo: Any
    ) -> None:
        visit = demo["Odile Fenwright"]
        context = self.change(nurse, visit, 2, lot="HB5512|110|Fridge A||")
        tray = context["tray"].tray
        assert "DTaP-HepB-IPV" in {place.vaccine for place in tray}
        assert "Hib is not given any more" in context["breaks"]

    def test_a_tray_that_breaks_a_rule_starts_only_with_a_reason(
        self, nurse: Any, demo: Any
    ) -> None:
        visit = demo["Odile Fenwright"]
        nurse.post(f"/visit/{visit.pk}/screen/", {"all": "no"})
        self.change(nurse, visit, 2, needle="22x38")
        nurse.post(f"/visit/{visit.pk}/start/")
        assert not LaidTray.objects.exists()
        nurse.post(f"/visit/{visit.pk}/start/", {"reason": "no other needle in the house"})
        assert LaidTray.objects.exists()

    def test_changes_can_be_taken_back(self, nurse: Any, demo: Any) -> None:
        visit = demo["Odile Fenwright"]
        self.change(nurse, visit, 2, needle="22x38")
        assert self.change(nurse, visit, 2, back="1")["breaks"] == ()


def test_what_is_decided_together_comes_on_the_tray(nurse: Any, demo: Any) -> None:
    visit = demo["Mina Oxbow"]
    before = nurse.get(f"/visit/{visit.pk}/tray/").context
    group = before["to_decide"][0][0]
    nurse.post(f"/visit/{visit.pk}/decide/", {"group": group, "value": "give"})
    after = nurse.get(f"/visit/{visit.pk}/tray/").context
    assert group not in {g for p in before["tray"].tray for g in p.groups}
    assert group in {g for p in after["tray"].tray for g in p.groups}


def test_what_is_decided_together_and_planned_together_is_not_also_put_off(
    nurse: Any, demo: Any
) -> None:
    visit = demo["Mina Oxbow"]
    nurse.post(f"/visit/{visit.pk}/decide/", {"group": "MenB", "value": "give"})
    plan_day_together(visit.day)
    tray = nurse.get(f"/visit/{visit.pk}/tray/").context["tray"]
    assert "MenB" in {group for place in tray.tray for group in place.groups}
    assert "MenB" not in {item.group for item in tray.not_today}


def test_a_session_planned_together_takes_no_more_than_lies_there(nurse: Any, demo: Any) -> None:
    day = timezone.localdate().isoformat()
    Lot.objects.filter(lot="HX7001").update(doses_left=2)
    alone = nurse.get(f"/day/{day}/").context
    assert [pick.lot for pick in alone["short"]] == ["HX7001"]  # three children want it
    nurse.post(f"/day/{day}/plan/")
    together = nurse.get(f"/day/{day}/").context
    assert together["short"] == []
    before = {g for row in alone["rows"] for p in row.tray.tray for g in p.groups}
    after = {g for row in together["rows"] for p in row.tray.tray for g in p.groups}
    assert before <= after


def test_a_plan_that_no_longer_fits_gives_way_to_the_childs_own_tray(nurse: Any, demo: Any) -> None:
    day = timezone.localdate().isoformat()
    nurse.post(f"/day/{day}/plan/")
    visit = demo["Odile Fenwright"]
    first = nurse.get(f"/visit/{visit.pk}/tray/").context["tray"]
    lot = next(place.lot for place in first.tray if "DTaP" in place.groups)
    Lot.objects.filter(lot=lot).update(quarantined="warm for an hour")
    now = nurse.get(f"/visit/{visit.pk}/tray/").context["tray"]
    assert lot not in {place.lot for place in now.tray}
    assert "DTaP" in {group for place in now.tray for group in place.groups}


def test_all_trays_of_a_day_come_out_as_one_pdf(nurse: Any, demo: Any) -> None:
    day = timezone.localdate().isoformat()
    response = nurse.get(f"/day/{day}/papers/?paper=a5")
    assert response.headers["Content-Type"] == "application/pdf"
    assert response.content.startswith(b"%PDF")
    assert nurse.get("/day/2001-01-01/papers/").status_code == 302
    assert nurse.get("/day/yesterday/papers/").status_code == 404


def test_the_first_dose_of_a_multidose_vial_opens_it_and_the_next_comes_from_it(
    chair: Chair, people: Any
) -> None:
    from traywise.tray.plan import Place
    from traywise.workbench.giving.recording import record_dose

    lot = Lot.objects.get(lot="FM2609")
    place = Place(
        n=9, cvx="141", vaccine="IIV3-multidose", name="IIV3", lot=lot.lot, groups=("Flu",),
        presentation="multidose", route="IM", volume_ml=0.5, site="LT", site_text="left thigh",
    )  # fmt: skip
    for number in range(11):
        record_dose(chair.visit, place, lot, key=f"k{number}", by=people["vaccinator"])
        record_dose(chair.visit, place, lot, key=f"k{number}", by=people["vaccinator"])
        vials = list(OpenVial.objects.filter(lot=lot).order_by("pk"))
        lot.refresh_from_db()
        assert lot.doses_left == 19 - number == sum_of_entries(lot)
        assert vials[0].doses_left == max(0, 9 - number)
    assert [(vial.doses_left, vial.closed_at is None) for vial in vials] == [(0, False), (9, True)]
    assert vials[0].discard_at > vials[0].opened_at
