"""A child of an HBsAg-positive mother is tested once the HepB series is complete.

Outside check: CDC, MMWR 64(39):1118 (2015): HBsAg and anti-HBs at 9 to 12 months, or 1 to 2
months after the last dose of a late series, not before 9 months. That it is asked until 24
months is common practice.
"""

from __future__ import annotations

from datetime import date

import pytest

from traywise.record.child import Child, Condition, CvxCode, DoseGiven
from traywise.schedule.answer import GroupForecast
from traywise.schedule.assess import assess
from traywise.screening.screen import screen

BORN = date(2024, 1, 10)
COMPLETE = (date(2024, 1, 10), date(2024, 2, 10), date(2024, 7, 10))


def child(*conditions: str, doses: tuple[date, ...] = COMPLETE) -> Child:
    return Child(
        id="x",
        born=BORN,
        birth_weight_g=3200,
        doses=tuple(DoseGiven(on=on, cvx=CvxCode("08")) for on in doses),
        conditions=tuple(Condition(key=key) for key in conditions),
    )


def forecast(on: date, *conditions: str, doses: tuple[date, ...] = COMPLETE) -> GroupForecast:
    return assess(child(*conditions, doses=doses), "us-2025", on).groups["HepB"]


@pytest.mark.parametrize(
    ("on", "asked"),
    [
        # 9 months: 10 October 2024; 24 months: 10 January 2026.
        (date(2024, 10, 9), False),
        (date(2024, 10, 10), True),
        (date(2026, 1, 9), True),
        (date(2026, 1, 10), False),
    ],
)
@pytest.mark.parametrize("mother", ["mother-hbsag-positive", "mother-hbsag-unknown"])
def test_testing_is_named_with_the_complete_series_from_9_to_24_months(
    mother: str, on: date, asked: bool
):
    answer = forecast(on, mother)
    assert answer.status == "complete"
    assert ("anti-HBs at 9 to 12 months" in answer.why) is asked
    assert ("mmwr-hepb-testing-2015" in answer.source) is asked


def test_an_unfinished_series_asks_for_its_dose_not_for_the_test():
    answer = forecast(date(2024, 10, 10), "mother-hbsag-positive", doses=COMPLETE[:2])
    assert answer.status == "due"
    assert "anti-HBs" not in answer.why


@pytest.mark.parametrize("mother", [(), ("mother-hbsag-negative",)])
def test_other_children_are_not_asked(mother: tuple[str, ...]):
    answer = forecast(date(2024, 10, 10), *mother)
    assert answer.status == "complete"
    assert "anti-HBs" not in answer.why


@pytest.mark.parametrize(
    ("mothers", "on", "row"),
    [
        (("mother-hbsag-positive",), date(2024, 10, 9), ""),
        (("mother-hbsag-positive",), date(2024, 10, 10), "hepb-exposed-testing"),
        (("mother-hbsag-unknown",), date(2024, 10, 9), ""),
        (("mother-hbsag-unknown",), date(2024, 10, 10), "hepb-unknown-testing"),
        # Unknown at birth, later known: only what is known speaks.
        (
            ("mother-hbsag-unknown", "mother-hbsag-positive"),
            date(2024, 10, 10),
            "hepb-exposed-testing",
        ),
        (("mother-hbsag-unknown", "mother-hbsag-negative"), date(2024, 10, 10), ""),
    ],
)
def test_the_visit_names_the_test(mothers: tuple[str, ...], on: date, row: str):
    seen = [one.key for one in screen(child(*mothers), on, ["DTaP"], ()).findings]
    assert [rule for rule in seen if rule.endswith("-testing")] == ([row] if row else [])
