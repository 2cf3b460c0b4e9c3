"""The weight on the tray: a slip is named, its lack said, and nothing is corrected.

Published case: AHRQ PSNet, A Weighty Mistake, 2013 (girl of 17 months, 25 lb entered as 25 kg).
Reach by weight: Bhowmick et al. 2020 (newborns, 16 mm at 90 degrees).
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from traywise.record.child import Child
from traywise.shelf.lot import Lot
from traywise.tray.compose import compose_tray

ON = date(2026, 11, 24)
SHELF = [
    Lot(lot="H", cvx="08", presentation="prefilled", doses=5, expires=date(2030, 1, 1)),
    Lot(lot="P", cvx="216", presentation="prefilled", doses=5, expires=date(2030, 1, 1)),
]


def cautions(age_days, **known):
    child = Child(id="invented", born=ON - timedelta(days=age_days), sex="F", **known)
    return compose_tray(child, ON, SHELF).tray.cautions


def doubts(age_days, **known):
    return [text for text in cautions(age_days, **known) if text.startswith("Weight in doubt")]


def test_the_published_pound_slip_stands_first_and_is_named():
    said = cautions(517, weight_kg=25.0, weighed_on=ON)
    assert said[0].startswith("Weight in doubt: 25 kg lies 8.5 SD above")
    assert "11.34 kg (pounds typed as kilograms)" in said[0]


@pytest.mark.parametrize(
    ("weight_kg", "age_days", "words"),
    [
        (64.0, 120, "decimal point one place too far right"),
        (14.1, 120, "pounds typed as kilograms"),
        (0.64, 120, "decimal point one place too far left"),
        (3.4, 3, None),
        (6.4, 120, None),
        (11.34, 517, None),
    ],
)
def test_slips_are_named_and_true_weights_pass(weight_kg, age_days, words):
    found = doubts(age_days, weight_kg=weight_kg, gestation_weeks=40)
    assert bool(found) == (words is not None)
    assert words is None or words in found[0]


def test_the_weight_is_judged_by_the_age_of_the_weighing():
    newborns = {"weight_kg": 3.4, "gestation_weeks": 40}
    assert doubts(200, **newborns, weighed_on=ON - timedelta(days=198)) == []
    assert len(doubts(200, **newborns, weighed_on=ON)) == 1


def test_a_doubtful_weight_changes_nothing_on_the_tray():
    born = ON - timedelta(days=517)
    trays = [
        compose_tray(Child(id="i", born=born, sex="F", weight_kg=kg), ON, SHELF).tray
        for kg in (25.0, 11.34)
    ]
    assert [place.needle for place in trays[0].tray] == [place.needle for place in trays[1].tray]
    assert any("0.25 mL for 25 kg" in text for text in trays[0].cautions)


def test_a_missing_weight_says_what_it_would_move_where_figures_were_printed():
    said = [text for text in cautions(20) if text.startswith("Weight not given")]
    assert len(said) == 1
    assert "90 from 1.5 kg" in said[0]
    assert said[0].endswith("The table's length stands.")
    assert not any(text.startswith("Weight not given") for text in cautions(20, weight_kg=3.5))
    # No figures by weight, and figures that are all alike: nothing to say.
    assert not any(text.startswith("Weight not given") for text in cautions(120))
    assert not any(text.startswith("Weight not given") for text in cautions(65))
