"""Doses beside a series: told as extra with their reason, seen by rows that count, never a dose.

Limits by hand: tests/cases/live.toml (MMR in parts) and tests/cases/hepb.toml (four HepB doses).
"""

from __future__ import annotations

from datetime import date

from traywise.record.child import Child, CvxCode, DoseGiven
from traywise.schedule.answer import Answer
from traywise.schedule.assess import assess


def ask(on: str, *doses: tuple[str, str]) -> Answer:
    child = Child(
        id="beside",
        born=date(2018, 1, 31),
        doses=tuple(DoseGiven(on=date.fromisoformat(day), cvx=CvxCode(cvx)) for day, cvx in doses),
    )
    return assess(child, "us-2025", date.fromisoformat(on), why=True)


def test_a_single_antigen_says_what_it_counts_for():
    """CDC: evidence of immunity is by disease."""
    answer = ask("2019-06-01", ("2019-01-31", "05"))
    verdict = answer.doses[0].groups["MMR"]
    assert (verdict.status, verdict.row) == ("extra", "MMR-part")
    assert "its own part" in str(verdict.reason)
    assert any(
        "2019-01-31 Measles" in step and "extra" in step for step in answer.groups["MMR"].chain
    )


def test_it_is_no_dose_of_the_series():
    forecast = ask("2019-06-01", ("2019-01-31", "05")).groups["MMR"]
    assert (forecast.valid_doses, forecast.next_dose) == (0, 1)


def test_a_dose_held_off_by_it_says_so_until_28_days_are_over():
    """31 Jan + 28 = 28 Feb 2019."""
    forecast = ask("2019-02-10", ("2019-01-31", "05")).groups["MMR"]
    assert forecast.due == date(2019, 2, 28)
    assert "Not before 2019-02-28: counted from the dose of 2019-01-31." in forecast.why


def test_a_child_complete_in_parts_is_told_why():
    given = [("2019-01-31", cvx) for cvx in ("05", "06", "07")]
    given += [("2022-03-01", "05"), ("2022-03-01", "07")]
    forecast = ask("2024-06-01", *given).groups["MMR"]
    assert (forecast.status, forecast.row) == ("complete", "MMR-complete-in-parts")
    assert "two doses against measles and mumps" in forecast.why.lower()
