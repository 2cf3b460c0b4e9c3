"""The needle and site table, both sides of every limit.

Outside source: ACIP General Best Practice Guidelines, Vaccine Administration, Table 6-2, as
restated by Immunize.org ("Dose, Route, Site, and Needle Size", 2018 and 2021). Lines marked
"common practice" or "Australia" say so. 5/8 in = 16 mm, 1 in = 25, 1 1/4 in = 32, 1 1/2 in = 38.
"""

from __future__ import annotations

import pytest
from tests.unit.equipment.visits import (
    child_of,
    dose,
    equip_many,
    equip_one,
    gauges,
    lengths,
)

from traywise.equipment import SupplyOnHand, equip
from traywise.rulebook.tables import sources

LT_RT = ("LT", "RT")
LA_RA = ("LA", "RA")

# age, days before it, known of the child -> site, lengths allowed, length taken; basis
INTRAMUSCULAR = [
    # Table 6-2, first 28 days and preterm: 5/8 in. Day 28 itself: common practice, kept short.
    ("1 day", 0, {}, "thigh", {16}, 16),
    ("27 days", 0, {}, "thigh", {16}, 16),
    ("28 days", 0, {}, "thigh", {16}, 16),
    ("29 days", 0, {}, "thigh", {25}, 25),
    ("29 days", 0, {"gestation_weeks": 37}, "thigh", {25}, 25),
    # Preterm: Table 6-2 without an upper age; 2 months from the Australian handbook.
    ("29 days", 0, {"gestation_weeks": 36}, "thigh", {16}, 16),
    ("29 days", 0, {"conditions": ["preterm"]}, "thigh", {16}, 16),
    ("2 months", 1, {"gestation_weeks": 30}, "thigh", {16}, 16),
    ("2 months", 0, {"gestation_weeks": 30}, "thigh", {16, 25}, 25),
    ("12 months", 1, {"gestation_weeks": 30}, "thigh", {16, 25}, 25),
    ("12 months", 0, {"gestation_weeks": 30}, "thigh", {25, 32}, 25),
    # Table 6-2, infants: 1 in.
    ("2 months", 0, {"gestation_weeks": 40}, "thigh", {25}, 25),
    ("12 months", 1, {}, "thigh", {25}, 25),
    # Table 6-2, 1 to 2 years: thigh 1 to 1 1/4 in; 25 mm taken by common practice.
    ("12 months", 0, {}, "thigh", {25, 32}, 25),
    ("18 months", 0, {}, "thigh", {25, 32}, 25),
    ("3 years", 1, {}, "thigh", {25, 32}, 25),
    ("18 months", 0, {"avoid": LT_RT}, "deltoid", {16, 25}, 25),
    # Table 6-2, 3 to 10 years: deltoid 5/8 to 1 in, thigh 1 to 1 1/4 in.
    ("3 years", 0, {}, "deltoid", {16, 25}, 25),
    ("5 years", 0, {}, "deltoid", {16, 25}, 25),
    ("11 years", 1, {}, "deltoid", {16, 25}, 25),
    ("3 years", 0, {"avoid": LA_RA}, "thigh", {25, 32}, 25),
    ("11 years", 1, {"avoid": LA_RA}, "thigh", {25, 32}, 25),
    # Table 6-2, 11 to 18 years: deltoid 5/8 in only under 60 kg; thigh 1 to 1 1/2 in.
    ("11 years", 0, {"weight_kg": 59.9}, "deltoid", {16, 25}, 25),
    ("11 years", 0, {"weight_kg": 60}, "deltoid", {25}, 25),
    ("14 years", 0, {"weight_kg": 65}, "deltoid", {25}, 25),
    ("11 years", 0, {}, "deltoid", {25}, 25),
    ("11 years", 0, {"avoid": LA_RA}, "thigh", {25, 32, 38}, 25),
    ("14 years", 0, {"weight_kg": 70, "avoid": LA_RA}, "thigh", {25, 32, 38}, 25),
    ("19 years", 1, {"weight_kg": 59.9}, "deltoid", {16, 25}, 25),
    # The adult weight rows applied to teens: common practice.
    ("14 years", 0, {"weight_kg": 69.9, "sex": "F"}, "deltoid", {25}, 25),
    ("14 years", 0, {"weight_kg": 70, "sex": "F"}, "deltoid", {25, 32, 38}, 25),
    ("14 years", 0, {"weight_kg": 90, "sex": "F"}, "deltoid", {25, 32, 38}, 25),
    ("14 years", 0, {"weight_kg": 90.1, "sex": "F"}, "deltoid", {38}, 38),
    ("14 years", 0, {"weight_kg": 90.1, "sex": "M"}, "deltoid", {25, 32, 38}, 25),
    ("14 years", 0, {"weight_kg": 118, "sex": "M"}, "deltoid", {25, 32, 38}, 25),
    ("14 years", 0, {"weight_kg": 118.1, "sex": "M"}, "deltoid", {38}, 38),
    ("14 years", 0, {"weight_kg": 118.1}, "deltoid", {38}, 38),
    ("14 years", 0, {"weight_kg": 100}, "deltoid", {25, 32, 38}, 25),
    ("14 years", 0, {"weight_kg": 95, "sex": "F", "avoid": LA_RA}, "thigh", {25, 32, 38}, 38),
]  # fmt: skip


@pytest.mark.parametrize(("age", "less_days", "known", "site", "allowed", "taken"), INTRAMUSCULAR)
def test_intramuscular_site_and_length(age, less_days, known, site, allowed, taken):
    place = equip_one(age, "HepB", less_days=less_days, **known)
    assert (site, allowed, taken) == (place.site_key, lengths(place), place.needle.length_mm)
    assert (place.route, place.angle_deg) == ("IM", 90)  # Table 6-2: 90 degrees in every row
    assert gauges(place) == {22, 23, 24, 25}  # Table 6-2: 22 to 25 gauge in every row


# Immunize.org, Dose, Route, Site, and Needle Size: 5/8 in, 23 to 25 gauge, 45 degrees
SUBCUTANEOUS = [
    ("6 months", 0, {}, "thigh"),
    ("12 months", 1, {}, "thigh"),
    ("12 months", 0, {}, "triceps"),
    ("18 years", 0, {"weight_kg": 120}, "triceps"),
    ("12 months", 0, {"avoid": LA_RA}, "thigh"),
    ("6 months", 0, {"avoid": LT_RT}, "triceps"),  # from memory
]


@pytest.mark.parametrize(("age", "less_days", "known", "site"), SUBCUTANEOUS)
def test_subcutaneous_site_and_needle(age, less_days, known, site):
    place = equip_one(age, "MMR", less_days=less_days, **known)
    assert ("SC", site, {16}, 45) == (place.route, place.site_key, lengths(place), place.angle_deg)
    assert gauges(place) == {23, 24, 25}


def test_bcg_goes_into_the_skin_of_the_left_arm():
    """MSF, TB guideline, BCG: 26 or 27 gauge, 10 mm, the same (left) arm for all."""
    place = equip_one("1 day", "BCG")
    assert ("ID", "LA", {10}) == (place.route, place.site, lengths(place))
    assert {26, 27} == gauges(place)
    assert not any("alcohol" in step for step in place.steps)  # no antiseptic


@pytest.mark.parametrize("age", ["2 months", "12 months", "5 years", "14 years"])
def test_a_short_needle_asks_for_stretched_skin(age):
    """Table 6-2, note: 5/8 in only with the skin stretched flat, tissue not bunched."""
    short = [SupplyOnHand(item="needle", gauge=25, length_mm=16, count=5)]
    known = {"gestation_weeks": 30, "weight_kg": 50.0}
    place = equip_one(
        age, "HepB", supplies=short, avoid=LT_RT if age == "12 months" else (), **known
    )
    assert place.needle.length_mm == 16
    assert "stretched flat" in place.technique
    assert any("stretched flat" in caution for caution in place.cautions)
    assert any("not at hand" in caution for caution in place.cautions)  # never silently


def test_a_toddler_with_little_deltoid_muscle_gets_the_thigh_or_nothing():
    """Table 6-2, 1 to 2 years: deltoid only if its muscle is adequate."""
    small = {"conditions": ["deltoid-muscle-small"]}
    assert equip_one("18 months", "HepB", **small).site_key == "thigh"
    layout = equip_many("18 months", ["HepB"], avoid=LT_RT, **small)
    assert layout.places == ()
    assert "muscle is small" in layout.unplaced[0].why


def test_a_toddler_with_unknown_muscle_gets_the_deltoid_only_when_no_thigh_is_left():
    place = equip_one("18 months", "HepB", avoid=LT_RT)
    assert any("judge its muscle adequate" in caution for caution in place.cautions)
    assert equip_one("18 months", "HepB").site_key == "thigh"


@pytest.mark.parametrize(("age", "less_days"), [("birth", 0), ("12 months", 1)])
def test_no_deltoid_for_the_muscle_under_twelve_months(age, less_days):
    """Immunize.org table: the deltoid is not listed under 12 months."""
    child, on = child_of(age, less_days=less_days, avoid=LT_RT)
    layout = equip(child, on, [dose("HepB")])
    assert layout.places == ()
    assert "under 12 months" in layout.unplaced[0].why.lower()


def test_missing_weight_is_named_with_what_it_would_change():
    layout = equip_many("14 years", ["HPV9"])
    said = next(text for text in layout.cautions if "Weight is not recorded" in text)
    assert "under 60 kg: 16 or 25 mm" in said
    assert "girl over 90 kg: 38 mm" in said
    assert not any("Weight" in text for text in equip_many("9 years", ["HPV9"]).cautions)


def test_missing_sex_is_named_only_where_it_would_change_the_length():
    assert any("Sex" in text for text in equip_many("14 years", ["HPV9"], weight_kg=95).cautions)
    assert not any("Sex" in t for t in equip_many("14 years", ["HPV9"], weight_kg=65).cautions)


def test_missing_gestation_is_named_while_it_would_change_the_length():
    assert any("gestation" in text for text in equip_many("6 weeks", ["HepB"]).cautions)
    assert not any("gestation" in text for text in equip_many("7 days", ["HepB"]).cautions)
    assert not any("gestation" in text for text in equip_many("12 months", ["HepB"]).cautions)


# Policies where sources differ (administration reference, 1.3)
POLICIES = [
    ("australia-2018", "1 day", {}, "thigh", {25}),  # handbook 2018: 25 mm for infants
    ("australia-2018", "1 day", {"gestation_weeks": 36}, "thigh", {16}),
    ("australia-2018", "2 months", {"gestation_weeks": 36}, "thigh", {25}),
    ("australia-2018", "12 months", {}, "deltoid", {25}),  # deltoid first from 12 months
    ("australia-2018", "14 years", {}, "deltoid", {25, 38}),
    ("who-programme", "1 day", {}, "thigh", {25}),  # fixed 23 gauge, 25 mm, all ages
    ("who-programme", "5 years", {}, "deltoid", {25}),
]


@pytest.mark.parametrize(("policy", "age", "known", "site", "allowed"), POLICIES)
def test_a_named_policy_is_followed_and_shown(policy, age, known, site, allowed):
    place = equip_one(age, "HepB", policy=policy, **known)
    assert (site, allowed) == (place.site_key, lengths(place))
    if policy == "who-programme":
        assert gauges(place) == {23}


def test_the_policy_stands_on_the_layout():
    layout = equip_many("5 years", ["HepB"])
    assert layout.policy == "acip-2024"
    assert "ACIP" in layout.policy_text


def test_every_place_names_a_source_that_is_known():
    for age in ("1 day", "6 months", "18 months", "5 years", "14 years"):
        for key in ("HepB", "MMR", "RV1"):
            place = equip_one(age, key)
            assert place.source
            for source in place.source:
                known = source.partition(",")[0]
                assert known in sources() or known in ("common practice", "from memory")
