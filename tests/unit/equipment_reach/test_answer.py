"""Where the answer has numbers, where it has none, and what it says about itself."""

from __future__ import annotations

import pytest

from traywise.equipment.reach.answer import reach
from traywise.errors import InputError


@pytest.mark.parametrize(
    ("site", "age", "evidence"),
    [
        ("thigh", 0, "measured"),
        ("thigh", 1.0, "interpolated"),
        ("thigh", 2.5, "measured"),
        ("thigh", 2.51, "interpolated"),
        ("thigh", 3.49, "interpolated"),
        ("thigh", 3.5, "measured"),
        ("thigh", 12, "interpolated"),
        ("thigh", 17.5, "measured"),
        ("thigh", 19, "measured"),
        ("thigh", 19.01, "none"),
        ("thigh", 227, "none"),
        ("deltoid", 0.5, "measured"),
        ("deltoid", 0.51, "none"),
        ("deltoid", 1.99, "none"),
        ("deltoid", 2, "measured"),
        ("deltoid", 15, "measured"),
        ("deltoid", 15.01, "none"),
        ("deltoid", 60, "none"),
    ],
)
def test_evidence_on_both_sides_of_every_limit(site, age, evidence):
    answer = reach(site, age, None, 25)
    assert answer.evidence == evidence
    assert (answer.short is None) == (evidence == "none")
    assert (answer.in_muscle is None) == (evidence == "none")
    assert answer.why


@pytest.mark.parametrize(("kg", "none"), [(1.49, True), (1.5, False), (2.49, False), (2.5, False)])
def test_nobody_below_the_lightest_measured_baby(kg, none):
    assert (reach("thigh", 0, kg, 16).evidence == "none") == none


def test_bunched_tissue_has_a_direction_and_no_number():
    answer = reach("thigh", 4, None, 16, technique="bunched")
    assert answer.evidence == "none"
    assert answer.in_muscle is None
    assert "short more often" in answer.why


def test_stretched_skin_names_its_outer_bound():
    stretched = reach("thigh", 4, None, 16)
    assert stretched.if_pressed.bone_depth > stretched.bone_depth.mid
    assert reach("thigh", 4, None, 16, technique="rest").if_pressed is None


def test_older_children_get_half_an_answer_labelled_as_such():
    answer = reach("thigh", 100, None, 16)
    assert answer.evidence == "none"
    assert [study.key for study in answer.short_only] == ["lim-thigh-7-12"]
    assert answer.short_only[0].bone_depth is None


def test_every_study_of_the_age_stands_beside_the_estimate():
    answer = reach("thigh", 4, None, 16)
    assert [s.key for s in answer.studies] == ["cook-4", "india-13-18-weeks", "japan-thigh"]
    assert answer.children == 13
    assert answer.age_gap_months == 0
    assert answer.source == ("reach-cook-2002, abstract",)


def test_between_ages_both_groups_are_named_and_counted():
    answer = reach("thigh", 3, None, 16)
    assert answer.children == 14 + 13
    assert answer.age_gap_months == 1
    assert "line between measured ages" in answer.why


def test_weight_outside_a_group_takes_it_off_the_list():
    assert "kim-toddlers" in {s.key for s in reach("thigh", 18, 11.0, 16).studies}
    assert "kim-toddlers" not in {s.key for s in reach("thigh", 18, 7.4, 16).studies}


@pytest.mark.parametrize(
    ("question", "codes"),
    [
        (("calf", 4, None, 16), ["equipment.E101"]),
        (("thigh", 4, None, 16, 90, "folded"), ["equipment.E102"]),
        (("thigh", -1, None, 16), ["equipment.E103"]),
        (("thigh", float("nan"), None, 16), ["equipment.E103"]),
        (("thigh", 4, 0.0, 16), ["equipment.E104"]),
        (("thigh", 4, None, 0), ["equipment.E105"]),
        (("thigh", 4, None, 16, 0), ["equipment.E106"]),
        (("thigh", 4, None, 16, 91), ["equipment.E106"]),
        (("calf", 300, 900, 99, 180), [f"equipment.E10{n}" for n in (1, 3, 4, 5, 6)]),
    ],
)
def test_every_fault_of_a_question_is_named_at_once(question, codes):
    with pytest.raises(InputError) as caught:
        reach(*question)
    assert [fault.code for fault in caught.value.faults] == codes


def test_hl7_sites_are_understood():
    assert reach("LT", 4, None, 16) == reach("thigh", 4, None, 16)
    assert reach("RD", 6, None, 16) == reach("deltoid", 6, None, 16)
