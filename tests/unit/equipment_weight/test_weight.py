"""A typed weight: plausible, a slip that is named, or unusual; never corrected in silence."""

from __future__ import annotations

import pytest

from traywise.equipment.growth import lms_at, weight_at
from traywise.equipment.weight import LastWeight, check_weight, describe_missing_weight


def test_the_published_case_is_flagged_with_the_pound_reading():
    # AHRQ PSNet, "A Weighty Mistake", 2013: girl, 17 months, 25 lb entered as 25 kg
    check = check_weight(25, 517, "F")
    assert check.z == pytest.approx(8.5, abs=0.05)
    assert check.verdict == "ask"
    assert check.explanations[0].slip == "pounds"
    assert check.explanations[0].weight_kg == pytest.approx(11.34)
    assert check.explanations[0].z == pytest.approx(1.0, abs=0.05)
    assert check.fault.code == "equipment.W121"


@pytest.mark.parametrize(
    ("typed", "age_days", "slip"),
    [
        (3400, 3, "grams"),
        (0.0064, 120, "kilograms-as-grams"),
        (64, 120, "point-right"),
        (0.64, 120, "point-left"),
        (14.1, 120, "pounds"),
        (2.9, 120, "kilograms-as-pounds"),
    ],
)
def test_slips_are_named(typed, age_days, slip):
    check = check_weight(typed, age_days, "F")
    assert check.verdict == "ask"
    assert slip in [each.slip for each in check.explanations]
    assert "confirm" in check.text


@pytest.mark.parametrize("age_days", [0, 61, 365, 729, 731, 1826])
@pytest.mark.parametrize("sex", ["F", "M"])
@pytest.mark.parametrize("z", [-1.95, 0, 1.95])
def test_pounds_show_up_to_five_years_and_true_weights_pass(age_days, sex, z):
    # needle-reach.md section 8.4: a slip shows at |z| >= 3 in almost every child to 5 years
    true_kg = weight_at(z, lms_at(age_days, sex))
    assert check_weight(true_kg, age_days, sex).verdict == "plausible"
    assert check_weight(true_kg * 2.2046, age_days, sex).verdict == "ask"


def test_a_lean_eleven_year_old_in_pounds_needs_the_last_weighing():
    # section 8.4: 1.9 SD by itself, so only the earlier weight can tell
    lean = weight_at(-2, lms_at(4018, "M"))
    typed = lean * 2.2046
    assert check_weight(typed, 4018, "M").verdict == "plausible"
    last = LastWeight(weight_kg=weight_at(-2, lms_at(3650, "M")), age_days=3650)
    check = check_weight(typed, 4018, "M", last=last)
    assert check.verdict == "ask"
    assert check.explanations[0].slip == "pounds"
    assert check_weight(lean, 4018, "M", last=last).verdict == "plausible"


def test_far_out_without_a_slip_is_unusual_and_may_be_true():
    # a girl of 12 months at 13.5 kg: in pounds she would be as far below the median
    check = check_weight(13.5, 365, "F")
    assert check.verdict == "unusual"
    assert check.fault.code == "equipment.W122"
    assert "may be true" in check.text


def test_unknown_sex_and_gestation_are_named():
    check = check_weight(6.4, 120, None)
    assert check.verdict == "plausible"
    assert len(check.unknown) == 2
    assert check_weight(6.4, 120, "F", gestation_weeks=39).unknown == ()


@pytest.mark.parametrize(("weeks", "verdict"), [(30, "plausible"), (37, "ask"), (40, "ask")])
def test_a_preterm_childs_age_is_corrected(weeks, verdict):
    # 3.3 kg at 10 weeks: a median newborn for 30 weeks of gestation, three SD low at term
    assert check_weight(2.9, 75, "F", gestation_weeks=weeks).verdict == verdict


def test_no_reference_says_so():
    assert check_weight(2.0, 10, "F", gestation_weeks=32).verdict == "no reference"
    assert check_weight(60, 7400, "F").verdict == "no reference"


def test_missing_weight_says_what_it_would_change():
    # Bhowmick et al. 2020: 16 mm at 90 degrees, 90, 31 and under 1 of 100 by weight
    told = describe_missing_weight("thigh", 1, 16)
    assert "90 from 1.5 kg, 31 from 3 kg, 0 from 4 kg" in told
    assert "No reach figures" in describe_missing_weight("thigh", 4, 16)
