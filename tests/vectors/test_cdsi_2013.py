"""CDC's published CDSi test cases, edition 2013, against ``us-2025``.

Source: CDC, Clinical Decision Support for Immunization, test cases of the 2013 edition
(see README-cdsi.md beside the cases). Cases that the README names as superseded by the
2025 schedule are listed here with the reason class; every other case must agree in the
verdict on every dose, in the status of the series and in the recommended date.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
from tests.shared_files import shared

from traywise.record.child import Child, Condition, CvxCode, DoseGiven
from traywise.screening.answer_for import answer_for

GROUPS = {"Influenza": "Flu", "Polio": "IPV"}
VERDICTS = {"valid": "valid", "not-valid": "not valid", "extraneous": "extra"}
STATUSES = {
    "not complete": {"due", "overdue", "not yet", "deferred"},
    "complete": {"complete"},
    "aged out": {"aged out"},
    "contraindicated": {"contraindicated"},
    "immune": {"immune"},
}
# README-cdsi.md, "Expectations judged superseded by the 2025 schedule"; by reason.
SUPERSEDED = {
    "season-bound, or a slip in the source": {"0172", "0175"},
    "two HPV doses before 15 years since 2016": {
        *("0392", "0405", "0418", "0421", "0452", "0453", "0461", "0468", "0486"),
        *("0400", "0402", "0404", "0463", "0407", "0440", "0441", "0443"),
    },
    "adult, outside this schedule": {"0416", "0467", "0481"},
    "PCV7 to PCV13 transition": {"0577"},
    "third polio dose at 4 years or older: 6 months": {"0630", "0678", "0679", "0680", "0718"},
}
LEFT_OUT = {f"2013-{number}" for numbers in SUPERSEDED.values() for number in numbers}


def cases() -> Iterator[dict[str, Any]]:
    for line in shared("cases/cdsi-2013-dev.jsonl").read_text("utf-8").splitlines():
        case = json.loads(line)
        if case["id"] not in LEFT_OUT:
            yield case


CONDITIONS = {
    "VXC20": "anaphylaxis-{group}",
    "VXC22": "encephalopathy-after-pertussis",
    "VXC27": "immunocompromised",
    "14189004": "measles-history",
    "38907003": "varicella-history",
}


def child_of(case: dict[str, Any], group: str) -> Child:
    conditions = [CONDITIONS[item["code"]].format(group=group.lower()) for item in case["history"]]
    return Child(
        id=case["id"],
        born=date.fromisoformat(case["born"]),
        sex=case["sex"],
        doses=tuple(
            DoseGiven(on=date.fromisoformat(dose["date"]), cvx=CvxCode(dose["cvx"]))
            for dose in case["doses"]
        ),
        conditions=tuple(Condition(key=key) for key in conditions),
    )


def differences(case: dict[str, Any]) -> list[str]:
    group = GROUPS.get(case["group"], case["group"])
    answer = answer_for(child_of(case, group), "us-2025", date.fromisoformat(case["assess_on"]))
    found = []
    for given, judged in zip(case["doses"], answer.doses, strict=True):
        # A dose of another vaccine carries the verdict of its own group (README, Verdicts).
        verdict = judged.groups.get(group) or next(iter(judged.groups.values()))
        if verdict.status != VERDICTS[given["expected"]]:
            found.append(f"{given['date']}: {given['expected']} expected, {verdict.status} given")
    forecast = answer.groups[group]
    if forecast.status not in STATUSES[case["expected_series_status"]]:
        found.append(f"status {case['expected_series_status']} expected, {forecast.status} given")
    if case["expected_next"] is not None:
        due = date.fromisoformat(case["expected_next"]["recommended"])
        if forecast.due != due:
            found.append(f"due {due} expected, {forecast.due} given by row {forecast.row}")
    return found


def test_every_case_that_still_holds_agrees() -> None:
    compared = {case["id"]: differences(case) for case in cases()}
    assert len(compared) >= 180
    wrong = {case_id: found for case_id, found in compared.items() if found}
    assert wrong == {}


@pytest.mark.parametrize("case_id", ["2013-0041", "2013-0113"])
def test_the_comparison_can_fail(case_id: str) -> None:
    case = next(case for case in cases() if case["id"] == case_id)
    case["doses"][-1]["expected"] = "valid"
    assert differences(case) != []
