"""Plain facts of the trade, as checks. All common practice unless a source is named."""

from __future__ import annotations

import msgspec
import pytest
from tests.unit.equipment.visits import child_of, dose, equip_many, equip_one

from traywise.equipment import equip
from traywise.equipment.steps import minutes_text

AGES = ["1 day", "2 months", "18 months", "5 years", "14 years"]


@pytest.mark.parametrize("age", AGES)
def test_needles_for_the_muscle_are_22_to_25_gauge(age):
    for key in ("HepB", "PCV20", "nirsevimab-50", "Tdap"):
        assert {n.gauge for n in equip_one(age, key).needle_choices} <= {22, 23, 24, 25}


# dose volume, presentation -> syringe (1 or 3 mL)
SYRINGES = [
    (0.25, "vial", 1.0, (1.0,)),
    (0.3, "vial", 1.0, (1.0,)),
    (0.31, "vial", 1.0, (1.0, 3.0)),
    (0.5, "vial", 1.0, (1.0, 3.0)),
    (0.99, "vial", 1.0, (1.0, 3.0)),
    (1.0, "vial", 3.0, (3.0,)),
    (3.0, "vial", 3.0, (3.0,)),
    (3.1, "vial", 5.0, (5.0, 10.0, 20.0)),
    (0.5, "multidose", 1.0, (1.0, 3.0)),
    (0.5, "vial+diluent", 3.0, (3.0, 1.0)),
    (0.25, "vial+diluent", 1.0, (1.0,)),
    (0.5, "prefilled", None, ()),
]


@pytest.mark.parametrize(("volume_ml", "presentation", "size", "choices"), SYRINGES)
def test_syringe_by_volume_and_presentation(volume_ml, presentation, size, choices):
    child, on = child_of("5 years")
    place = equip(child, on, [dose("HepA", presentation=presentation, volume_ml=volume_ml)]).places[
        0
    ]
    assert (place.syringe_ml, place.syringe_choices_ml) == (size, choices)
    assert bool(place.syringe)


def test_every_injection_gets_its_own_needle_and_syringe():
    """CDC provider pages: separate sterile needle and syringe for each injection."""
    layout = equip_many("12 months", ["HepA", "VAR", "Hib-PRP-T", "PCV20", "MMR"])
    assert all(place.needle for place in layout.places)
    for place in layout.places:
        assert any("New sterile needle and syringe" in step for step in place.steps)
        assert any("one vaccine only in the syringe" in step for step in place.steps)


@pytest.mark.parametrize("presentation", ["vial", "multidose", "vial+diluent"])
def test_no_needle_change_between_vial_and_child(presentation):
    """Immunize.org: not recommended; only if bent, damaged or contaminated."""
    child, on = child_of("5 years")
    place = equip(child, on, [dose("HepA", presentation=presentation)]).places[0]
    assert any("only if it is bent, damaged or touched something" in s for s in place.steps)


def test_a_glass_ampoule_is_drawn_through_a_filter_needle_and_the_needle_changed():
    child, on = child_of("5 years")
    place = equip(child, on, [dose("HepA", presentation="ampoule")]).places[0]
    assert any("filter needle, then change" in step for step in place.steps)


def test_no_aspiration_and_dry_pressure():
    """Taddio 2015: no aspiration."""
    for key in ("HepB", "MMR"):
        place = equip_one("5 years", key)
        assert any("Do not pull back on the plunger" in step for step in place.steps)
        assert any("no rubbing" in step for step in place.steps)


def test_air_stays_in_a_ready_filled_syringe_and_leaves_a_drawn_up_one():
    """Immunize.org, air in syringes."""
    filled = equip_one("5 years", "HepB")
    assert any("air bubble may stay" in step for step in filled.steps)
    child, on = child_of("5 years")
    drawn = equip(child, on, [dose("HepB", presentation="vial")]).places[0]
    assert any("push the air out" in step for step in drawn.steps)


# Immunize.org, Vaccines with Diluents
@pytest.mark.parametrize(("key", "keeps"), [("MMR", "8 hours"), ("VAR", "30 minutes")])
def test_a_mixed_vaccine_says_how_long_it_keeps(key, keeps):
    assert any(f"use within {keeps}" in step for step in equip_one("5 years", key).steps)
    assert not any("Once mixed" in step for step in equip_one("5 years", "HepB").steps)


def test_an_antibody_is_not_shaken_and_an_adjuvanted_vaccine_is():
    """CDC, RSV antibodies: do not shake."""
    assert "Do not shake." in equip_one("2 months", "nirsevimab-50").steps
    assert any(step.startswith("Shake") for step in equip_one("2 months", "HepB").steps)


def test_by_mouth_there_is_no_needle_and_a_warning_never_to_inject():
    place = equip_one("2 months", "RV1")
    assert (place.site, place.needle, place.angle_deg, place.needle_missing) == (None,) * 4
    assert any("never inject" in text for text in place.cautions)
    assert not any("sharps" in step for step in place.steps)


def test_nose_half_in_each_nostril():
    """MMWR 2024, influenza: 0.1 mL in each nostril."""
    steps = " ".join(equip_one("4 years", "LAIV3").steps)
    assert "other nostril" in steps


@pytest.mark.parametrize(
    ("age", "words"),
    [
        ("7 days", "Skin to skin"),
        ("6 months", "Held"),
        ("5 years", "Sitting up"),
        ("14 years", "faint"),
    ],
)
def test_position_by_age(age, words):
    """Taddio 2015; CDC provider pages for fainting teens."""
    assert any(words in step for step in equip_one(age, "HepB").steps)


def test_a_thick_liquid_wants_a_wider_needle_within_the_table():
    child, on = child_of("5 years")
    thin = dose("HepA")
    thick = msgspec.structs.replace(thin, vaccine=msgspec.structs.replace(thin.vaccine, thick=True))
    places = [equip(child, on, [one]).places[0] for one in (thin, thick)]
    assert [place.needle.gauge for place in places] == [25, 23]
    assert set(places[0].needle_choices) == set(places[1].needle_choices)


def test_a_powder_of_several_doses_is_mixed_once_and_dated():
    place = equip_one("1 day", "BCG")
    assert any("mixing syringe" in step for step in place.steps)
    assert not any("opening time" in step for step in place.steps)


def test_labels_when_more_than_one_syringe_lies_ready():
    assert not any("Label" in step for step in equip_one("5 years", "HepB").steps)
    layout = equip_many("5 years", ["HepB", "MMR"])
    assert all(any("Label" in step for step in place.steps) for place in layout.places)


def test_who_programme_uses_one_piece_syringes():
    """Red Cross catalogue: 0.5 mL auto-disable syringe with fixed needle."""
    child, on = child_of("2 months")
    place = equip(child, on, [dose("DTwP-HepB-Hib")], policy="who-programme").places[0]
    assert (place.syringe_ml, place.one_piece, str(place.needle)) == (0.5, True, "23 G × 25 mm")


def test_an_auto_disable_syringe_serves_only_its_own_volume():
    """It locks after one stroke of 0.5 mL (Red Cross catalogue)."""
    child, on = child_of("2 months")
    half = dose("DTwP-HepB-Hib", volume_ml=0.25)
    place = equip(child, on, [half], policy="who-programme").places[0]
    assert (place.syringe_ml, place.one_piece) == (1.0, False)


@pytest.mark.parametrize(
    ("minutes", "text"), [(30, "30 minutes"), (60, "1 hour"), (90, "90 minutes")]
)
def test_keeping_times_in_words(minutes, text):
    assert minutes_text(minutes) == text
