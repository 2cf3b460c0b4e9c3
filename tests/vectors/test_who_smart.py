"""WHO's decision cases against the ``who`` edition.

Source: WHO, SMART Guidelines - Immunizations, test features and patient bundles (see
README-who.md beside the cases). Each case runs under the programme variant that it names:
a variant that is not a default of the edition is an overlay. The record is read twice, once
as our own JSON and once from the case's FHIR bundle.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
from tests.shared_files import shared

from traywise.exchange.read_any import read_file
from traywise.record.child import Child, Condition, CvxCode, DoseGiven
from traywise.rulebook.foreign_codes import condition_codes, icd11_vaccines
from traywise.schedule.answer import GroupForecast
from traywise.screening.answer_for import answer_for

# The variant of a case -> edition; the first part of a variant's text decides.
EDITIONS = {
    "delayed start": "who+who-hepb-delayed-start",
    "bOPV birth dose": "who+who-polio-zero-dose",
    "live attenuated": "who+who-je-live-attenuated",
    "ongoing transmission": "who",
    "one table": "who",
    "2-dose schedule": "who",
    "single table": "who",
    "all": "who",
}
GROUPS = {
    "Measles": "Measles",
    "Rotavirus": "RV",
    "HPV": "HPV",
    "Hepatitis B": "HepB",
    "Polio": "OPV",
    "BCG": "BCG",
    "JE": "JE",
}
CLASSES = {
    "due": {"due"},
    "not_due": {"not yet", "deferred", "not recommended", "aged out"},
    "complete": {"complete"},
    "contraindicated": {"contraindicated"},
    "judgement": {"clinician decides"},
}
DOSES = {"MCV1": 1, "MCV2": 2}


def cases() -> list[dict[str, Any]]:
    text = shared("cases/who-smart-dev.jsonl").read_text("utf-8")
    return [json.loads(line) for line in text.splitlines()]


def edition_of(case: dict[str, Any]) -> str:
    found = [name for start, name in EDITIONS.items() if case["variant"].startswith(start)]
    assert len(found) == 1, case["variant"]
    return found[0]


def child_of_case(case: dict[str, Any]) -> Child:
    return Child(
        id=case["patient"],
        born=date.fromisoformat(case["child"]["born"]),
        sex={"female": "F", "male": "M", "other": "X"}[case["child"]["sex"]],
        doses=tuple(
            DoseGiven(
                on=date.fromisoformat(given["date"]),
                cvx=CvxCode(
                    given["vaccine"]["cvx"] or icd11_vaccines()[given["vaccine"]["icd11"]].cvx
                ),
            )
            for given in case["history"]
        ),
        conditions=tuple(
            Condition(
                key=condition_codes()[item["code"]].condition,
                since=date.fromisoformat(item["date"]),
            )
            for item in case["conditions"]
        ),
    )


def child_of_bundle(case: dict[str, Any]) -> Child:
    result = read_file(shared(f"cases/who-fhir/tests-{case['patient']}-bundle.json"))
    assert len(result.children) == 1, result.all_faults
    return result.children[0]


def differences(case: dict[str, Any], child: Child) -> Iterator[str]:
    answer = answer_for(child, edition_of(case), date.fromisoformat(case["assess_on"]))
    forecast: GroupForecast = answer.groups[GROUPS[case["table"].split(".")[-1]]]
    expected = case["expected"]
    if forecast.status not in CLASSES[expected["class"]]:
        yield f"{expected['class']} expected, {forecast.status} given ({forecast.why})"
    if (forecast.status in ("due", "overdue")) != expected["due"]:
        yield f"due {expected['due']} expected, {forecast.status} given"
    dose = expected.get("dose")
    if dose is not None and expected["class"] in ("due", "not_due"):
        number = DOSES[dose] if dose in DOSES else int(dose)
        if forecast.next_dose != number:
            yield f"dose {number} expected, {forecast.next_dose} given"
    planned = expected.get("next_due") or expected.get("earliest_by_rule")
    if planned and str(forecast.due) != planned:
        yield f"planned for {planned} expected, {forecast.due} given"


@pytest.mark.parametrize("read", [child_of_case, child_of_bundle])
def test_every_case_agrees(read: Any) -> None:
    compared = {case["id"]: list(differences(case, read(case))) for case in cases()}
    assert len(compared) == 23
    assert {case_id: found for case_id, found in compared.items() if found} == {}


def test_both_ways_of_reading_give_the_same_history() -> None:
    for case in cases():
        ours, theirs = child_of_case(case), child_of_bundle(case)
        assert ours.born == theirs.born
        assert ours.sex == theirs.sex
        assert sorted((d.on, d.cvx) for d in ours.doses) == sorted(
            (d.on, d.cvx) for d in theirs.doses
        )
        assert {c.key for c in ours.conditions} == {c.key for c in theirs.conditions}


def test_a_dose_that_is_held_back_keeps_its_planned_day_and_says_until_when() -> None:
    case = next(case for case in cases() if case["id"] == "18S-Measles10.3")
    answer = answer_for(child_of_case(case), "who", date.fromisoformat(case["assess_on"]))
    forecast = answer.groups["Measles"]
    assert forecast.status == "deferred"
    assert forecast.due == date(2025, 11, 12)
    assert forecast.until == date(2025, 11, 26)  # 2025-10-29 plus 28 days


def test_the_comparison_can_fail() -> None:
    case = next(case for case in cases() if case["id"] == "D2-HPV12.2")
    case["expected"].update({"class": "due", "due": True})
    assert list(differences(case, child_of_case(case)))
