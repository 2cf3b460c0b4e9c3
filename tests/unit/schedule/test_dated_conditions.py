"""What an answer says about dated conditions, and what an overlay of a clinic can ask of them.

The dates of the rules themselves are worked by hand in tests/cases/dated-conditions.toml.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from traywise.record.child import Child, Condition, CvxCode, DoseGiven
from traywise.rulebook.edition import load_edition
from traywise.schedule.answer import Answer
from traywise.schedule.assess import assess
from traywise.schedule.compile import compiled
from traywise.screening.screen import screen

BORN = date(2020, 1, 10)
TRANSPLANT = Condition(key="haematopoietic-transplant", since=date(2023, 1, 5))
INFANT_DOSES = tuple(
    DoseGiven(on=on, cvx=CvxCode("48"))
    for on in (date(2020, 3, 10), date(2020, 5, 10), date(2020, 7, 10), date(2021, 1, 12))
)


def ask(
    on: date,
    *conditions: Condition,
    doses: tuple[DoseGiven, ...] = INFANT_DOSES,
    edition: str = "us-2025",
) -> Answer:
    child = Child(id="x", born=BORN, sex="F", doses=doses, conditions=conditions)
    return assess(child, edition, on, why=True)


def test_the_chain_names_the_transplant_and_its_day_before_the_doses():
    answer = ask(date(2023, 6, 1), TRANSPLANT)
    chain = answer.groups["Hib"].chain
    assert chain[0] == "Recorded: Stem-cell transplant, from 2023-01-05"
    assert "given before the stem-cell transplant" in chain[1]
    assert "2023-01-05" in answer.groups["Hib"].why
    assert "6 months" in answer.groups["Hib"].why


def test_a_group_without_such_rows_does_not_speak_of_the_transplant():
    chain = ask(date(2023, 6, 1), TRANSPLANT).groups["VAR"].chain
    assert not any("transplant" in step for step in chain)


def test_a_dose_too_soon_after_the_transplant_says_what_was_needed():
    early = DoseGiven(on=date(2023, 3, 1), cvx=CvxCode("48"))
    verdict = ask(date(2023, 6, 1), TRANSPLANT, doses=(early,)).doses[0].groups["Hib"]
    assert verdict.status == "not valid"
    assert verdict.reason == "6 months needed after: Stem-cell transplant, from 2023-01-05"


def test_a_day_that_is_not_recorded_is_named_and_asked_for():
    forecast = ask(date(2023, 6, 1), Condition(key="haematopoietic-transplant")).groups["Hib"]
    assert forecast.chain[0] == "Recorded: Stem-cell transplant, no day recorded"
    assert "its day not recorded: record it" in forecast.why
    assert not forecast.why.startswith("By the rule")


def test_a_dose_kept_off_by_chemotherapy_says_until_when_and_why():
    treated = Condition(key="chemotherapy", since=date(2021, 1, 26), until=date(2022, 3, 10))
    why = ask(date(2022, 6, 1), treated).groups["Hib"].why
    assert "Not before 2022-06-10" in why
    assert "Chemotherapy for cancer, from 2021-01-26 to 2022-03-10" in why


def test_the_first_day_of_a_pregnancy_follows_from_the_expected_day_of_birth_and_is_said():
    girl = Child(
        id="g",
        born=date(2008, 3, 1),
        sex="F",
        doses=tuple(
            DoseGiven(on=on, cvx=CvxCode("20"))
            for on in (date(2008, 5, 1), date(2008, 7, 1), date(2008, 9, 1), date(2012, 4, 1))
        ),
        conditions=(Condition(key="pregnant", until=date(2025, 10, 13)),),
    )
    why = assess(girl, "us-2025", date(2025, 7, 14)).groups["DTaP"].why
    assert "until 2025-10-13, so from 2025-01-06" in why


def test_no_source_of_a_complete_series_is_one_of_the_rare_rows():
    forecast = ask(date(2022, 6, 1)).groups["Hib"]
    assert forecast.status == "complete"
    assert forecast.source == "acip-intervals, Hib-1"


SCHOOL_AGE_DOSES = tuple(
    DoseGiven(on=on, cvx=CvxCode("20"))
    for on in (
        *(date(2020, 3, 10), date(2020, 5, 10), date(2020, 7, 10)),
        *(date(2021, 4, 10), date(2024, 2, 10)),
    )
)


def test_a_dose_for_a_wound_is_urgent_and_names_the_wound_and_its_day():
    wound = Condition(key="wound-other", since=date(2029, 2, 10))
    forecast = ask(date(2029, 2, 12), wound, doses=SCHOOL_AGE_DOSES).groups["DTaP"]
    assert (forecast.status, forecast.urgent) == ("due", True)
    assert forecast.why.startswith("Earliest from the first day (Wound not clean and minor")
    assert "2029-02-10" in forecast.why
    assert not forecast.unconfirmed
    assert forecast.chain[0].startswith("Recorded: Wound not clean and minor")


def test_a_wound_that_asks_for_nothing_is_not_urgent():
    wound = Condition(key="wound-clean-minor", since=date(2029, 2, 10))
    forecast = ask(date(2029, 2, 12), wound, doses=SCHOOL_AGE_DOSES).groups["DTaP"]
    assert (forecast.status, forecast.urgent) == ("not yet", False)


@pytest.mark.parametrize("key", ["wound-other", "wound-clean-minor"])
def test_a_wound_without_its_day_is_asked_for_it_at_once(key: str):
    forecast = ask(date(2029, 2, 12), Condition(key=key), doses=SCHOOL_AGE_DOSES).groups["DTaP"]
    assert (forecast.status, forecast.urgent) == ("clinician decides", True)
    assert "its day not recorded: record it" in forecast.why


def test_immune_globulin_is_named_with_fewer_than_three_doses_even_while_the_dose_waits():
    wound = Condition(key="wound-other", since=date(2020, 3, 20))
    forecast = ask(date(2020, 3, 21), wound, doses=SCHOOL_AGE_DOSES[:1]).groups["DTaP"]
    assert (forecast.status, forecast.due) == ("not yet", date(2020, 4, 7))
    assert "tetanus immune globulin at once" in forecast.why


@pytest.mark.parametrize(("key", "named"), [("wound-other", True), ("wound-clean-minor", False)])
@pytest.mark.parametrize(
    ("on", "open_still"),
    [(date(2029, 2, 9), False), (date(2029, 2, 20), True), (date(2029, 2, 21), False)],
)
def test_the_visit_names_immune_globulin_while_the_wound_is_open(
    key: str, named: bool, on: date, open_still: bool
):
    wound = Condition(key=key, since=date(2029, 2, 10), until=date(2029, 2, 20))
    child = Child(id="x", born=BORN, conditions=(wound,))
    found = [one.key for one in screen(child, on, ["DTaP"], ()).findings]
    assert ("wound-immune-globulin" in found) is (named and open_still)


CLINIC = """
[overlay]
key = "our-clinic"
title = "After chemotherapy (invented)"
publisher = "invented"
published = "2026-06-01"
on = ["us-2025"]

[[add]]
group = "VAR"
before = "VAR-1"
key = "VAR-1-after-chemotherapy"
after = 0
event.of = ["chemotherapy"]
event.time = "after"
event.day = "last"
event.minimum_interval = "6 months"
event.overdue_interval = "9 months"
alone = true
minimum_age = "12 months"
source = "our-clinic, invented"
"""


@pytest.fixture
def clinic(tmp_path: Path) -> str:
    path = tmp_path / "our-clinic.toml"
    path.write_text(CLINIC, encoding="utf-8")
    return f"us-2025+{path}"


@pytest.mark.parametrize(
    ("on", "status"),
    [
        # 10 March + 6 months: 10 September; + 9 months: 10 December.
        (date(2022, 9, 9), "not yet"),
        (date(2022, 9, 10), "due"),
        (date(2022, 12, 9), "due"),
        (date(2022, 12, 10), "overdue"),
    ],
)
def test_an_overlay_can_count_from_the_last_day(clinic: str, on: date, status: str):
    treated = Condition(key="chemotherapy", since=date(2021, 1, 26), until=date(2022, 3, 10))
    forecast = ask(on, treated, doses=(), edition=clinic).groups["VAR"]
    assert (forecast.status, forecast.due) == (status, date(2022, 9, 10))
    assert forecast.row == "VAR-1-after-chemotherapy"


def test_on_the_last_day_itself_it_is_not_yet_over(clinic: str):
    treated = Condition(key="chemotherapy", since=date(2021, 1, 26), until=date(2022, 3, 10))
    on = date(2022, 3, 10)
    assert ask(on, treated, doses=(), edition=clinic).groups["VAR"].row == "VAR-1"
    later = ask(on + timedelta(days=1), treated, doses=(), edition=clinic).groups["VAR"]
    assert later.row == "VAR-1-after-chemotherapy"


def test_a_child_without_dated_conditions_reads_no_row_about_them():
    table = compiled("us-2025")
    dated = {row.key for _, row in table.row_of if row.event is not None}
    assert dated
    plain = ask(date(2023, 6, 1), doses=())
    assert not dated & {forecast.row for forecast in plain.groups.values()}


def test_every_row_about_a_condition_names_one_that_a_record_can_hold():
    edition = load_edition("us-2025")
    assert set(edition.dated_keys) <= set(edition.condition_keys)
    assert set(edition.dated_keys) == {
        *("haematopoietic-transplant", "chemotherapy", "radiotherapy", "pregnant"),
        *("wound-clean-minor", "wound-other"),
    }
