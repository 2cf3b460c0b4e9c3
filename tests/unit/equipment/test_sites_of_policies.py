"""Sites that only one authority lists, the US percutaneous BCG, a third dose in one deltoid.

Sources: Australian Immunisation Handbook 2018, injection sites (administration.md 1.3, 4.2);
travel handbook chapter 2013, Table 8-2 (percutaneous BCG: 0.3 mL, half strength under 30 days,
the rest from memory); adult advice at second hand (administration.md 4.2) for three in a deltoid.
"""

from __future__ import annotations

import pytest
from tests.unit.equipment.visits import at, child_of, dose, equip_many, equip_one, lengths

from traywise.equipment import equip
from traywise.equipment.check import check_layout
from traywise.equipment.tables import policies
from traywise.rulebook.codes import site_codes

FIVE = ["PCV20", "DTaP", "HepB", "Hib-PRP-T", "IPV"]
HIPS = {"LVG", "RVG"}


def laid(age, keys, policy, **known):
    child, on = child_of(age, **known)
    layout = equip(child, on, [dose(key) for key in keys], policy=policy)
    assert check_layout(child, on, layout) == []
    return layout


@pytest.mark.parametrize("age", ["birth", "4 months", "12 months", "5 years", "16 years"])
@pytest.mark.parametrize("policy", sorted(policies()))
def test_the_side_of_the_hip_is_taken_only_under_the_australian_policy(age, policy):
    keys = [*FIVE, "HepA", "IIV3", "Tdap", "MenACWY-TT", "HPV9"]
    layout = laid(age, keys, policy)
    used = {place.site for place in layout.places} & HIPS
    assert used == (HIPS if policy == "australia-2018" else set())


def test_the_hip_comes_after_two_in_each_thigh():
    four = laid("4 months", FIVE[:4], "australia-2018")
    assert {place.site for place in four.places} == {"LT", "RT"}
    five = laid("4 months", FIVE, "australia-2018")
    thighs = [place.site for place in five.places if place.site not in HIPS]
    assert sorted(thighs) == ["LT", "LT", "RT", "RT"]
    assert sum(place.site in HIPS for place in five.places) == 1
    assert not any("More than this limb" in text for p in five.places for text in p.cautions)


def test_one_vaccine_at_each_hip_and_never_two():
    layout = laid(
        "16 years", [*FIVE, "HepA", "IIV3", "Tdap", "MenACWY-TT", "HPV9"], "australia-2018"
    )
    sites = [place.site for place in layout.places]
    assert (sites.count("LVG"), sites.count("RVG")) == (1, 1)


@pytest.mark.parametrize(
    ("age", "known", "wanted"),
    [
        ("1 month", {"gestation_weeks": 36}, {16}),
        ("1 month", {"gestation_weeks": 37}, {25}),
        ("2 months", {"gestation_weeks": 36}, {25}),
        ("10 years", {}, {25}),
        ("11 years", {}, {25, 38}),
    ],
)
def test_the_australian_lengths_hold_at_the_hip(age, known, wanted):
    """Handbook 2018, needle table: by age and size, whatever the site."""
    layout = laid(age, [*FIVE, "HepA", "IIV3", "Tdap", "MenACWY-TT"], "australia-2018", **known)
    hips = [place for place in layout.places if place.site in HIPS]
    assert hips
    assert [lengths(place) for place in hips] == [wanted] * len(hips)
    assert all(place.angle_deg == 90 for place in hips)


def test_at_the_hip_the_record_is_warned_about_and_the_landmark_told():
    place = next(p for p in laid("4 months", FIVE, "australia-2018").places if p.site in HIPS)
    assert any("LVG or RVG" in text for text in place.cautions)
    assert any("Never the buttock" in step for step in place.steps)
    assert site_codes()[place.site].name == "left hip, ventrogluteal"


def test_a_leg_to_be_kept_free_keeps_its_hip_free_and_antibody_and_vaccine_share_no_side():
    spared = laid("4 months", FIVE[:3], "australia-2018", avoid=("LT",))
    assert {place.limb for place in spared.places} == {"RT"}
    birth = laid("birth", ["HepB", "HBIG"], "australia-2018")
    assert at(birth, "HepB").limb != at(birth, "HBIG").limb
    one_leg = laid("birth", ["HepB", "HBIG"], "australia-2018", avoid=("LT",))
    assert len(one_leg.places) == len(one_leg.unplaced) == 1


# -- BCG of the US, multiple puncture --


@pytest.mark.parametrize("policy", sorted(policies()))
def test_percutaneous_bcg_has_a_device_and_no_needle(policy):
    child, on = child_of("6 months")
    layout = equip(child, on, [dose("BCG-percutaneous", volume_ml=0.3)], (), policy=policy)
    (place,) = layout.places
    assert check_layout(child, on, layout) == []
    assert (place.route, place.site_key, place.site) == ("PC", "upper-arm", "LA")
    assert (place.needle, place.needle_missing, place.angle_deg) == (None, None, None)
    assert "lower end of the deltoid" in place.site_text
    assert "multiple-puncture device" in place.syringe
    assert place.needs == ("puncture-device",)
    assert place.syringe_missing == "Not at hand: a syringe of 1 mL."


@pytest.mark.parametrize(("less_days", "half"), [(1, True), (0, False)])
def test_under_30_days_it_is_half_strength(less_days, half):
    place = equip_one("30 days", "BCG-percutaneous", less_days=less_days)
    assert half == any("half strength" in step for step in place.steps)


def test_bcg_into_the_skin_keeps_its_needle():
    place = equip_one("1 day", "BCG")
    assert (place.route, place.needle.length_mm) == ("ID", 10)


# -- three in one deltoid --

TEEN = ["HPV9", "Tdap", "MenACWY-TT", "MenB-4C", "HepB"]


@pytest.mark.parametrize(
    ("flag", "placed"),
    [(None, 4), ("deltoid-muscle-adequate", 4), ("deltoid-muscle-adult-size", 5)],
)
def test_a_third_in_one_deltoid_only_where_it_is_of_adult_size(flag, placed):
    known = {"avoid": ("LT", "RT"), "conditions": [flag] if flag else []}
    layout = laid("16 years", TEEN, "acip-2024", **known)
    assert len(layout.places) == placed
    warned = [p for p in layout.places if any("advice for adults" in text for text in p.cautions)]
    assert len(warned) == (3 if placed == 5 else 0)


@pytest.mark.parametrize(("less_days", "placed"), [(0, 5), (1, 4)])
def test_no_third_before_eleven_years(less_days, placed):
    known = {"avoid": ("LT", "RT"), "conditions": ["deltoid-muscle-adult-size"]}
    child, on = child_of("11 years", less_days=less_days, **known)
    layout = equip(child, on, [dose(key) for key in TEEN])
    assert len(layout.places) == placed
    assert check_layout(child, on, layout) == []


def test_it_is_the_last_resort_after_arms_and_thighs_are_full():
    more = [*TEEN, "HepA", "IIV3", "PCV20"]
    layout = equip_many("16 years", more, conditions=["deltoid-muscle-adult-size"])
    assert max(sum(p.site == site for p in layout.places) for site in ("LD", "RD")) == 2
    assert not any("advice for adults" in text for p in layout.places for text in p.cautions)


def test_where_the_whole_leg_binds_that_is_said():
    layout = laid("4 months", FIVE, "australia-2018", avoid=("LT",))
    assert len(layout.places) == 3
    assert all("a whole leg at most 3" in left.why for left in layout.unplaced)
