"""Visits that the schedule foresees, one after the other, for the forecast of supplies."""

from __future__ import annotations

import json
from datetime import date

import pytest
from click.testing import CliRunner

from traywise.cli import main
from traywise.record.child import Child, CvxCode, DoseGiven
from traywise.session.needles import Kind
from traywise.session.visits_ahead import visits_ahead
from traywise.shelf.lot import Lot

ON = date(2026, 11, 24)
YEAR = date(2027, 11, 23)
EDITION = "us-2025"

# Invented lots of a small shelf: DTaP-HepB-IPV, Hib PRP-T, PCV20.
SHELF = [
    Lot(lot="A1", cvx="110", presentation="prefilled", doses=1, expires=date(2026, 11, 25)),
    Lot(lot="A2", cvx="48", presentation="vial+diluent", doses=1, expires=date(2027, 10, 31)),
    Lot(lot="A3", cvx="216", presentation="prefilled", doses=1, expires=date(2027, 10, 31)),
]
BEHIND = Child(id="invented-behind", born=date(2026, 7, 20), sex="F", gestation_weeks=39)
LONG = Kind("needle", 25, 25)


def days(children, end=YEAR, shelf=SHELF):
    return [day for day, _ in visits_ahead(children, shelf, ON, end, EDITION)]


def test_a_child_behind_comes_now_and_then_as_the_schedule_says():
    # CDC catch-up table: 4 weeks to DTaP 2; third doses at 6 months; booster doses at 12 months
    assert days([BEHIND]) == [ON, date(2026, 12, 22), date(2027, 1, 20), date(2027, 7, 20)]


def test_every_injection_of_a_visit_has_its_needle_and_place():
    for _, visit in visits_ahead([BEHIND], SHELF, ON, YEAR, EDITION):
        assert sum(visit.routes.values()) == visit.sharps == visit.uses[LONG]
        assert visit.uses[Kind("wipe")] == visit.sharps


@pytest.mark.parametrize(
    ("end", "visits"), [(date(2026, 12, 21), 1), (date(2026, 12, 22), 2), (ON, 1)]
)
def test_the_last_day_counts(end, visits):
    assert len(days([BEHIND], end=end)) == visits


def test_a_child_up_to_date_comes_when_the_next_dose_is_due():
    given = [
        DoseGiven(on=date(2026, month, 20), cvx=CvxCode(cvx))
        for month in (9,)
        for cvx in ("110", "48", "216")
    ]
    # born 2026-07-20: doses at 2 months, next at 4 months = 2026-11-20, already due
    on_time = Child(
        id="invented-on-time", born=date(2026, 7, 20), gestation_weeks=40, doses=tuple(given)
    )
    assert days([on_time])[0] == ON
    newborn = Child(id="invented-newborn", born=date(2026, 11, 23), gestation_weeks=40)
    assert date(2027, 1, 23) in days([newborn])


def test_nothing_on_the_shelf_needs_nothing():
    assert days([BEHIND], shelf=[]) == []


def test_the_order_of_children_does_not_matter():
    other = Child(id="invented-other", born=date(2026, 5, 2), gestation_weeks=38)
    assert sorted(days([BEHIND, other])) == sorted(days([other, BEHIND]))


def test_command_reads_records_with_a_shelf(tmp_path):
    (tmp_path / "child.json").write_text(
        '{"id": "x1", "born": "2026-07-20", "sex": "F", "gestation_weeks": 39}', encoding="utf-8"
    )
    (tmp_path / "shelf.csv").write_text(
        "lot,cvx,mvx,presentation,doses,expires,funding,unit,opened_at,discard_at,cost\n"
        "A1,110,,prefilled,9,2027-10,,f1,,,\nA3,216,,prefilled,9,2027-10,,f1,,,\n",
        encoding="utf-8",
    )
    asked = [str(tmp_path / "child.json"), "--shelf", str(tmp_path / "shelf.csv"), "--json"]
    result = CliRunner().invoke(main, ["needles", *asked, "--from", "2026-11-24", "--days", "60"])
    answer = json.loads(result.stdout)
    assert answer["expected"] == "3 visits in all"
    assert answer["lines"][0]["expected"] == 6
    assert answer["lines"][0]["by_route"] == {"IM": 6}
