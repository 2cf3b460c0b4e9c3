"""Special rules of the US edition, both sides of each limit, with the publication beside the case.

What was read of each publication stands in docs/evidence-us-2025.md.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from tests.schedule_words import ask, at, verdicts

BORN = date(2014, 3, 10)
RISK = ("asplenia",)


def given(*doses: tuple[str, str]) -> list[tuple[date, str]]:
    """Doses as (age, CVX)."""
    return [(at(BORN, age), cvx) for age, cvx in doses]


PCV13 = given(("2 months", "133"), ("4 months", "133"), ("6 months", "133"), ("12 months", "133"))
PCV20 = given(("2 months", "216"), ("4 months", "216"), ("6 months", "216"), ("12 months", "216"))
PPSV23 = given(("3 years", "33"))
DTAP = given(("2 months", "20"), ("4 months", "20"), ("6 months", "20"), ("18 months", "20"))
MEN_B = given(("16 years", "162"), ("16 years 1 month", "162"))

# Group, doses, conditions, age at the question, due age, row.
DUE = [
    # Immunize.org, Ask the Experts 2025: PPSV23 in weakened immunity, then 5 years.
    ("PCV", PCV13 + PPSV23, ("hiv",), "4 years", "8 years", "after-PPSV23"),
    ("PPSV", PCV13 + PPSV23, ("hiv",), "4 years", "8 years", "PPSV-2"),
    # CDC, risk-based pneumococcal recommendations: a complete series without PCV20, 8 weeks.
    ("PCV", PCV13, ("diabetes",), "3 years", "24 months", "PCV-risk-after-series"),
    # Ask the Experts 2025: third MenB dose 4 months after dose 2 and 6 months after dose 1.
    ("MenB", MEN_B, (), "16 years 2 months", "16 years 6 months", "MenB-3-MenB-FHbp"),
    # ACIP 2020, Tables 4 and 5: MenACWY booster 3 years after a series before 7 years, then 5.
    (
        "MenACWY",
        given(("2 years", "203"), ("26 months", "203")),
        RISK,
        "3 years",
        "62 months",
        "booster-risk-under-7",
    ),
    (
        "MenACWY",
        given(("2 years", "203"), ("26 months", "203"), ("62 months", "203")),
        RISK,
        "6 years",
        "122 months",
        "booster-risk-later",
    ),
    # ACIP 2020, Tables 4 and 5: MenB booster 1 year after the series, then every 2 to 3 years.
    (
        "MenB",
        given(("11 years", "162"), ("146 months", "162")),
        RISK,
        "147 months",
        "158 months",
        "MenB-booster-risk-1",
    ),
    # Ask the Experts 2022: fewer than five pertussis doses, none since 4 years: Tdap at 7 to 9.
    ("DTaP", DTAP, (), "8 years", "7 years", "Tdap-7-to-9-years"),
    ("DTaP", [*DTAP, *given(("8 years", "115"))], (), "8 years 1 month", "11 years", "adolescent"),
    ("DTaP", [*DTAP, *given(("4 years", "20"))], (), "8 years", "11 years", "adolescent"),
    # CDC notes 2018: elective splenectomy, unvaccinated.
    ("Hib", [], ("splenectomy-planned",), "9 years", "60 months", "splenectomy-planned"),
    # CDC notes 2018: MenACWY-CRM for travel, begun at 2 months or at 7 to 23 months.
    (
        "MenACWY",
        given(("2 months", "136"), ("4 months", "136"), ("6 months", "136")),
        ("meningococcal-travel",),
        "7 months",
        "12 months",
        "last-of-4",
    ),
    (
        "MenACWY",
        given(("13 months", "136")),
        ("meningococcal-travel",),
        "14 months",
        "13 months 84 days",
        "last-of-2",
    ),
]


@pytest.mark.parametrize(("group", "doses", "conditions", "age", "due", "row"), DUE)
def test_due(
    group: str,
    doses: list[tuple[date, str]],
    conditions: tuple[str, ...],
    age: str,
    due: str,
    row: str,
) -> None:
    answer = ask(BORN, doses, at(BORN, age), conditions=conditions).groups[group]
    assert answer.due == at(BORN, due)
    assert row in (answer.row or "")


# Group, earlier doses, CVX, age at the dose, conditions, grace days in use.
COUNTS = [
    # Immunize.org, Ask the Experts 2022: dengue counts from 5 months.
    ("Dengue", given(("9 years", "56")), "56", "9 years 5 months", ("dengue-confirmed",), 4),
    # CDC notes 2018 (ACIP 2010): DTaP dose 4 counts from 4 months, no grace.
    ("DTaP", DTAP[:2] + given(("8 months", "20")), "20", "12 months", (), 0),
    # MenB dose 3: 6 months after dose 1 and 4 months after dose 2.
    ("MenB", MEN_B, "162", "16 years 6 months", (), 4),
]


@pytest.mark.parametrize(("group", "before", "cvx", "age", "conditions", "grace"), COUNTS)
def test_a_dose_counts_from_the_limit(
    group: str,
    before: list[tuple[date, str]],
    cvx: str,
    age: str,
    conditions: tuple[str, ...],
    grace: int,
) -> None:
    limit = at(BORN, age)
    for days, verdict in ((0, "valid"), (grace, "valid"), (grace + 1, "not valid")):
        day = limit - timedelta(days=days)
        seen = ask(BORN, [*before, (day, cvx)], day, conditions=conditions)
        assert verdicts(seen, group)[-1] == verdict


def test_the_two_dose_series_with_adult_vaccine_ends_at_16_years() -> None:
    """Immunize.org, Ask the Experts 2023: from 16 years three doses are needed."""
    first = given(("12 years", "43"))
    for days, status in ((-5, "complete"), (0, "not yet")):
        second = at(BORN, "16 years", days)
        answer = ask(BORN, [*first, (second, "43")], at(BORN, "16 years", 7))
        assert answer.groups["HepB"].status == status


def test_no_pneumococcal_dose_after_a_series_with_pcv20() -> None:
    """CDC, risk-based pneumococcal recommendations: nothing more after PCV20."""
    answer = ask(BORN, PCV20, at(BORN, "7 years"), conditions=("hiv",))
    assert answer.groups["PCV"].status == "complete"
    assert answer.groups["PPSV"].status == "not recommended"


# Earlier doses as CVX, doses still needed in the season 2024-25 (ACIP, MMWR 72(42), Table 1).
COVID_UNDER_5 = [
    ((), "311", 2),
    ((), "308", 3),
    (("311",), "311", 1),
    (("311", "311"), "311", 1),
    (("308",), "308", 2),
    (("308", "308"), "308", 1),
    (("308", "308", "308"), "308", 1),
]


@pytest.mark.parametrize(("before", "cvx", "needed"), COVID_UNDER_5)
def test_covid_doses_under_5_years(before: tuple[str, ...], cvx: str, needed: int) -> None:
    born = date(2021, 6, 1)
    doses = [(date(2023, 9, 20) + timedelta(weeks=9 * n), code) for n, code in enumerate(before)]
    for n in range(needed):
        day = date(2024, 9, 20) + timedelta(weeks=9 * n)
        assert ask(born, doses, day).groups["COVID"].status in ("due", "overdue")
        doses.append((day, cvx))
    after = ask(born, doses, doses[-1][0] + timedelta(days=1))
    assert after.groups["COVID"].status == "complete"
    assert set(verdicts(after, "COVID")) == {"valid"}
