"""Several injections at one visit: spacing, capacity, separation, order, second visit."""

from __future__ import annotations

from datetime import timedelta

import pytest
from tests.unit.equipment.visits import at, child_of, dose, equip_many, equip_one

from traywise.equipment import equip
from traywise.equipment.check import check_layout

LT_RT = ("LT", "RT")


def limbs(layout):
    return [place.limb for place in layout.places if place.limb]


def test_dtap_and_pcv_go_in_different_thighs():
    """Immunize.org, Ask the Experts: DTaP and PCV in different limbs."""
    layout = equip_many("2 months", ["DTaP", "Hib-PRP-T", "PCV20"])
    assert at(layout, "DTaP").limb != at(layout, "PCV20").limb


def test_vaccine_and_antibody_against_one_disease_go_in_separate_limbs():
    """General Best Practice Guidelines as restated 2020: HepB and HBIG in separate limbs."""
    layout = equip_many("birth", ["HepB", "HBIG"])
    assert {"LT", "RT"} == set(limbs(layout))


def test_antibody_is_kept_when_only_one_limb_is_free_and_the_rule_is_named():
    layout = equip_many("birth", ["HepB", "HBIG"], avoid=("LT",))
    assert [place.what.vaccine.key for place in layout.places] == ["HBIG"]
    assert "separate limbs" in layout.unplaced[0].why


def test_an_rsv_antibody_may_share_a_limb_with_any_vaccine():
    """AAP: given like a vaccine, not aimed at any vaccine antigen."""
    layout = equip_many("1 day", ["HepB", "nirsevimab-50"], avoid=("LT",))
    assert limbs(layout) == ["RT", "RT"]


def test_two_in_one_thigh_keep_25_mm():
    """Immunization Action Coalition 2010, WHO: at least 1 inch (2.5 cm) apart."""
    layout = equip_many("2 months", ["DTaP", "Hib-PRP-T", "PCV20"])
    sharing = [place for place in layout.places if limbs(layout).count(place.limb) == 2]
    assert [place.apart_mm for place in sharing] == [25, 25]
    assert {"upper", "lower"} == {place.position for place in sharing}
    assert all(any("25 mm" in step for step in place.steps) for place in sharing)


# injections of one kind, age, known -> how many have a place (Australian handbook, WHO: two in
# each thigh of an infant; a third there, arms and older children by common practice)
ROOM = [
    (4, "2 months", {}, 4, False),
    (5, "2 months", {}, 5, True),
    (6, "2 months", {}, 6, True),
    (7, "2 months", {}, 6, True),
    (3, "2 months", {"avoid": ("LT",)}, 3, True),
    (4, "2 months", {"avoid": ("LT",)}, 3, True),
    (4, "18 months", {"conditions": ["deltoid-muscle-small"]}, 4, False),
    (5, "18 months", {"conditions": ["deltoid-muscle-small"]}, 4, False),
    (6, "18 months", {}, 6, False),
    (7, "18 months", {}, 6, False),
    (7, "18 months", {"conditions": ["deltoid-muscle-adequate"]}, 7, True),
    (8, "5 years", {}, 8, True),
    (4, "14 years", {}, 4, False),
]


@pytest.mark.parametrize(("count", "age", "known", "placed", "crowded"), ROOM)
def test_room_of_the_limbs(count, age, known, placed, crowded):
    child, on = child_of(age, **known)
    layout = equip(child, on, [dose("HepB", lot=f"L{n}") for n in range(count)])
    assert placed == len(layout.places)
    assert count - placed == len(layout.unplaced)
    cautions = [text for place in layout.places for text in place.cautions]
    assert crowded == any("More than this limb usually takes" in text for text in cautions)
    assert check_layout(child, on, layout) == []


def test_no_room_names_the_rule_and_the_next_day():
    child, on = child_of("2 months")
    layout = equip(child, on, [dose("HepB", lot=f"L{n}") for n in range(7)])
    (left,) = layout.unplaced
    assert "at most 3" in left.why
    assert left.next_visit == on + timedelta(days=1)


def test_a_live_vaccine_left_over_waits_28_days_when_another_was_given():
    """ACIP, spacing of live vaccines: the same day or 28 days apart."""
    child, on = child_of("6 years", avoid=("LA", "RA", "LT"))
    layout = equip(child, on, [dose("MMR"), dose("VAR"), dose("MMR-SC", lot="b")])
    assert [left.next_visit for left in layout.unplaced] == [on + timedelta(days=28)]
    assert len(layout.places) == 2


def test_an_urgent_dose_is_kept_when_not_all_have_room():
    child, on = child_of("2 months", avoid=("LT",))
    doses = [dose("HepB", lot=f"L{n}", urgency=int(n == 3)) for n in range(4)]
    kept = {place.what.lot for place in equip(child, on, doses).places}
    assert "L3" in kept


def test_a_dose_of_two_injections_takes_two_sites():
    """CDC, RSV antibody: 200 mg as two injections of 1 mL at two sites."""
    child, on = child_of("10 months")
    split = dose("nirsevimab-100", volume_ml=1.0, injections=2)
    layout = equip(child, on, [split, dose("PCV20"), dose("IIV3")])
    parts = [place for place in layout.places if place.dose == 0]
    assert [place.part for place in parts] == [1, 2]
    assert len({place.limb for place in parts}) == 2
    assert all(any("two injections" in text for text in place.cautions) for place in parts)


def test_half_of_a_split_dose_is_never_given():
    child, on = child_of("18 months", avoid=("RT", "LA", "RA"), conditions=["deltoid-muscle-small"])
    split = dose("nirsevimab-100", volume_ml=1.0, injections=2)
    layout = equip(child, on, [split, dose("PCV20", urgency=1), dose("IIV3", urgency=1)])
    assert [left.dose for left in layout.unplaced] == [0]


def test_by_mouth_first_sorest_last():
    """WHO pain paper: rotavirus first, most painful last; RACGP: PCV and MMR most painful."""
    infant = equip_many("2 months", ["PCV20", "DTaP-HepB-IPV", "RV1", "Hib-PRP-T"])
    order = [place.what.vaccine.key for place in infant.places]
    assert (order[0], order[-1]) == ("RV1", "PCV20")
    teen = equip_many("11 years", ["HPV9", "Tdap", "MenACWY-TT"])
    assert [place.what.vaccine.key for place in teen.places][-1] == "HPV9"
    child = equip_many("4 years", ["MMR", "LAIV3", "VAR", "DTaP-IPV"])
    keys = [place.what.vaccine.key for place in child.places]
    assert (keys[0], keys[-1]) == ("LAIV3", "MMR")


def test_rotavirus_comes_before_other_oral_vaccines():
    """WHO pain paper, restated: rotavirus first, its sugar soothes."""
    child, on = child_of("6 weeks")
    layout = equip(child, on, [dose("bOPV", volume_ml=0.1), dose("RV1", volume_ml=1.5)])
    assert [place.what.vaccine.key for place in layout.places] == ["RV1", "bOPV"]


def test_typical_twelve_month_visit():
    """Layout of the reference, consistent with its rules (common practice)."""
    layout = equip_many("12 months", ["HepA", "VAR", "Hib-PRP-T", "PCV20", "MMR"])
    assert {"LA", "RA"} == {at(layout, "VAR").site, at(layout, "MMR").site}
    assert limbs(layout).count(at(layout, "PCV20").limb) == 1


def test_typical_eleven_year_visit_stays_in_the_arms():
    layout = equip_many("11 years", ["Tdap", "MenACWY-TT", "HPV9"])
    assert {place.site for place in layout.places} == {"LD", "RD"}


def test_a_cast_on_the_arms_moves_the_injection_and_its_needle_to_the_thigh():
    place = equip_one("5 years", "DTaP-IPV", avoid=("LA", "RA"))
    assert (place.site_key, place.needle.length_mm) == ("thigh", 25)
    assert any("LA, RA" in why for why in place.why)


@pytest.mark.parametrize("code", ["LD", "LA"])
def test_an_arm_to_avoid_is_the_whole_arm(code):
    layout = equip_many("4 years", ["DTaP-IPV", "VAR"], avoid=(code,))
    assert set(limbs(layout)) == {"RA"}


def test_an_unknown_limb_is_said_not_guessed():
    layout = equip_many("4 years", ["DTaP-IPV"], avoid=("left leg",))
    assert any('"left leg"' in text for text in layout.cautions)


def test_an_infant_dose_of_one_millilitre_in_one_thigh_is_not_stopped():
    """Immunize.org, volume: more than convention can be acceptable, for example 1 mL."""
    place = equip_one("3 months", "nirsevimab-100")
    assert place.site_key == "thigh"
    child, on = child_of("7 days")
    newborn = equip(child, on, [dose("nirsevimab-100", volume_ml=1.0)])
    assert any("no authority sets a limit" in text for text in newborn.places[0].cautions)
    older = equip(*child_of("3 months"), [dose("nirsevimab-100", volume_ml=1.0)])
    assert not any("authority" in text for text in older.places[0].cautions)


def test_a_bleeding_child_gets_a_fine_needle_and_pressure_and_sc_where_licensed():
    """Care with bleeding disorders: 23 gauge or finer (from memory), pressure for 2 minutes."""
    bleeding = {"conditions": ["bleeding-disorder"]}
    place = equip_one("5 years", "DTaP-IPV", **bleeding)
    assert place.route == "IM"
    assert {needle.gauge for needle in place.needle_choices} == {23, 24, 25}
    assert any("2 minutes" in step for step in place.steps)
    assert not any(step.startswith("Dry pressure") for step in place.steps)
    assert equip_one("5 years", "IPV", **bleeding).route == "SC"
    assert equip_one("5 years", "IPV").route == "IM"


def test_latex_is_said_at_the_place():
    """Pink Book, latex in packaging: anaphylaxis avoids it, contact allergy is no bar."""
    anaphylaxis = equip_one("5 years", "DTaP", conditions=["anaphylaxis-latex"])
    assert any("take another presentation" in text for text in anaphylaxis.cautions)
    contact = equip_one("5 years", "DTaP", conditions=["latex-contact-allergy"])
    assert any("no bar" in text for text in contact.cautions)
    assert not any("rubber" in text for text in equip_one("5 years", "DTaP").cautions)
