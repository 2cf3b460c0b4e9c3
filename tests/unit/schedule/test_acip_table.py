"""The ACIP table of ages and intervals, row by row: on the limit, in the grace days, beyond them.

Source: ACIP/CDC, General Best Practice Guidelines for Immunization, Timing and Spacing,
Table 3-2 (minimum ages, minimum intervals), and the 4-day rule of the same chapter.
Exceptions to the grace days: VAR to VAR under 13 years and MenACWY from 10 years
(CDC CDSi test cases, 2013).
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from tests.schedule_words import CVX, ask, at, verdicts

BORN = date(2015, 3, 10)

# Group, doses before (their ages), minimum age of the dose in question.
MINIMUM_AGES = [
    ("DTaP", [], "6 weeks"),
    ("DTaP", ["6 weeks"], "10 weeks"),
    ("DTaP", ["6 weeks", "10 weeks"], "14 weeks"),
    ("DTaP", ["6 weeks", "10 weeks", "14 weeks"], "12 months"),
    ("DTaP", ["6 weeks", "10 weeks", "14 weeks", "12 months"], "4 years"),
    ("HepA", [], "12 months"),
    ("HepA", ["12 months"], "18 months"),
    ("HepB", ["birth"], "4 weeks"),
    ("HepB", ["birth", "6 weeks"], "24 weeks"),
    ("Hib", [], "6 weeks"),
    ("Hib", ["6 weeks"], "10 weeks"),
    ("Hib", ["6 weeks", "10 weeks"], "14 weeks"),
    ("Hib", ["6 weeks", "10 weeks", "14 weeks"], "12 months"),
    ("HPV", [], "9 years"),
    ("Flu", [], "6 months"),
    ("IPV", [], "6 weeks"),
    ("IPV", ["6 weeks"], "10 weeks"),
    ("IPV", ["6 weeks", "10 weeks"], "14 weeks"),
    ("IPV", ["6 weeks", "10 weeks", "14 weeks"], "4 years"),
    ("MMR", [], "12 months"),
    ("MMR", ["12 months"], "13 months"),
    ("PCV", [], "6 weeks"),
    ("PCV", ["6 weeks"], "10 weeks"),
    ("PCV", ["6 weeks", "10 weeks"], "14 weeks"),
    ("PCV", ["6 weeks", "10 weeks", "14 weeks"], "12 months"),
    ("RV", [], "6 weeks"),
    ("RV", ["6 weeks"], "10 weeks"),
    ("RV", ["6 weeks", "10 weeks"], "14 weeks"),
    ("VAR", [], "12 months"),
    ("MenB", [], "16 years"),
    ("MenACWY", ["11 years"], "16 years"),
]

# Group, doses before (the last is the one the interval counts from), minimum interval.
MINIMUM_INTERVALS = [
    ("DTaP", ["5 months"], "4 weeks"),
    ("DTaP", ["2 months", "5 months"], "4 weeks"),
    ("DTaP", ["2 months", "4 months", "6 months", "46 months"], "6 months"),
    ("HepA", ["2 years"], "6 months"),
    ("HepB", ["2 months"], "4 weeks"),
    ("HepB", ["birth", "8 months"], "8 weeks"),
    ("Hib", ["3 months"], "4 weeks"),
    ("Hib", ["3 months", "5 months"], "4 weeks"),
    ("Hib", ["3 months", "5 months", "11 months"], "8 weeks"),
    ("IPV", ["5 months"], "4 weeks"),
    ("IPV", ["2 months", "5 months"], "4 weeks"),
    ("IPV", ["2 months", "4 months", "45 months"], "6 months"),
    ("MMR", ["2 years"], "4 weeks"),
    ("PCV", ["3 months"], "4 weeks"),
    ("PCV", ["3 months", "5 months"], "4 weeks"),
    ("PCV", ["3 months", "5 months", "11 months"], "8 weeks"),
    ("RV", ["12 weeks"], "4 weeks"),
    ("RV", ["12 weeks", "20 weeks"], "4 weeks"),
    ("VAR", ["13 years"], "4 weeks"),
    ("HPV", ["15 years"], "4 weeks"),
    ("HPV", ["15 years", "16 years"], "12 weeks"),
    ("MenACWY", ["15 years 11 months"], "8 weeks"),
]


def last_verdict(group: str, ages: list[str], on: date) -> str:
    doses = [(at(BORN, age), CVX[group]) for age in ages]
    return verdicts(ask(BORN, [*doses, (on, CVX[group])], on), group)[-1]


@pytest.mark.parametrize(("group", "before", "age"), MINIMUM_AGES)
def test_minimum_age_on_the_limit_in_and_beyond_the_grace_days(
    group: str, before: list[str], age: str
) -> None:
    limit = at(BORN, age)
    assert last_verdict(group, before, limit) == "valid"
    if group == "Flu":
        assert limit.month == 9  # within the season, so that no other season speaks
    early = timedelta(days=4)
    assert _age_verdict(group, before, limit - early, early) == "valid"
    early = timedelta(days=5)
    assert _age_verdict(group, before, limit - early, early) == "not valid"


def _age_verdict(group: str, before: list[str], on: date, early: timedelta) -> str:
    """The dose on a day, the one before moved by as many days so that its interval holds."""
    doses = [(at(BORN, age), CVX[group]) for age in before]
    if doses:
        day, cvx = doses[-1]
        # Never moved past the dose's own grace days.
        moved = day - min(early, timedelta(days=4))
        doses[-1] = (max(moved, BORN), cvx)
    return verdicts(ask(BORN, [*doses, (on, CVX[group])], on), group)[-1]


@pytest.mark.parametrize(("group", "before", "interval"), MINIMUM_INTERVALS)
def test_minimum_interval_on_the_limit_in_and_beyond_the_grace_days(
    group: str, before: list[str], interval: str
) -> None:
    limit = at(at(BORN, before[-1]), interval)
    assert last_verdict(group, before, limit) == "valid"
    assert last_verdict(group, before, limit - timedelta(days=4)) == "valid"
    assert last_verdict(group, before, limit - timedelta(days=5)) == "not valid"


# No grace: the last day that does not count, and the first that does.
NO_GRACE = [
    ("VAR", ["2 years"], at(at(BORN, "2 years"), "28 days")),
    ("MenACWY", [], at(BORN, "10 years")),
    ("DTaP", ["2 months", "4 months", "12 months"], at(at(BORN, "12 months"), "4 months")),
]


@pytest.mark.parametrize(("group", "before", "limit"), NO_GRACE)
def test_limits_without_grace_days(group: str, before: list[str], limit: date) -> None:
    assert last_verdict(group, before, limit) == "valid"
    assert last_verdict(group, before, limit - timedelta(days=1)) == "not valid"


# Latest ages: the last day that is still given, and status the day after.
LATEST = [
    ("RV", [], "14 weeks 6 days"),
    ("RV", ["10 weeks"], "8 months"),
]


@pytest.mark.parametrize(("group", "before", "age"), LATEST)
def test_latest_ages_end_on_the_printed_day(group: str, before: list[str], age: str) -> None:
    last = at(BORN, age)
    doses = [(at(BORN, item), CVX[group]) for item in before]
    assert ask(BORN, doses, last).groups[group].latest == last
    assert ask(BORN, doses, last).groups[group].status in ("due", "overdue")
    after = last + timedelta(days=1)
    assert ask(BORN, doses, after).groups[group].status == "aged out"


def test_second_hpv_dose_before_5_months_counts_but_asks_for_a_third() -> None:
    """CDC notes 2025, HPV (from memory); CDC CDSi test cases 2013, 0440 to 0443."""
    born, first = BORN, at(BORN, "11 years")
    for early, expected in ((4, "complete"), (5, "not yet")):
        second = at(first, "5 months") - timedelta(days=early)
        answer = ask(born, [(first, "165"), (second, "165")], second)
        assert verdicts(answer, "HPV") == ["valid", "valid"]
        assert answer.groups["HPV"].status == expected
