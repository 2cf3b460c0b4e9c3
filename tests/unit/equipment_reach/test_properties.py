"""What must hold of every reach answer, whatever the studies say (needle-reach.md section 5)."""

from __future__ import annotations

from math import sqrt
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traywise.equipment.reach.answer import reach
from traywise.equipment.reach.geometry import tip_depth_mm, track_in_muscle_mm
from traywise.equipment.reach.probability import draws, shares, shares_of_draw
from traywise.equipment.reach.studies import studies
from traywise.equipment.reach.tissue import find_tissue, tissue_of

SMALL = 1e-9
children = st.tuples(
    st.just("thigh"), st.floats(0, 19), st.none() | st.floats(1.5, 14)
) | st.tuples(st.just("deltoid"), st.floats(2, 15), st.none() | st.floats(3, 14))
lengths = st.floats(8, 40)
angles = st.floats(10, 90)


@settings(max_examples=60, deadline=None)
@given(children, lengths, angles)
def test_the_middle_shares_sum_to_one_and_lie_in_their_range(child, length, angle):
    answer = reach(*child, length, angle)
    three = (answer.short, answer.in_muscle, answer.bone_depth)
    assert sum(share.mid for share in three) == pytest.approx(1)
    assert all(0 <= share.low <= share.mid <= share.high <= 1 for share in three)


@settings(max_examples=60, deadline=None)
@given(children, lengths, st.floats(0, 20), angles)
def test_a_longer_needle_is_never_more_often_short(child, length, more, angle):
    shorter, longer = reach(*child, length, angle), reach(*child, length + more, angle)
    for bound in ("low", "mid", "high"):
        assert getattr(longer.short, bound) <= getattr(shorter.short, bound) + SMALL
        assert getattr(longer.bone_depth, bound) >= getattr(shorter.bone_depth, bound) - SMALL


@settings(max_examples=40, deadline=None)
@given(children, lengths, angles, angles)
def test_a_steeper_needle_goes_deeper(child, length, one, other):
    flat, steep = sorted((one, other))
    shallow, deep = reach(*child, length, flat), reach(*child, length, steep)
    assert deep.depth_mm >= shallow.depth_mm
    assert deep.short.mid <= shallow.short.mid + SMALL
    assert deep.bone_depth.mid >= shallow.bone_depth.mid - SMALL


def test_45_degrees_reaches_as_deep_as_a_shorter_needle_straight():
    for length in (16, 22, 25, 32, 38):
        assert tip_depth_mm(length, 45) == pytest.approx(length * 0.70711, abs=0.001)
        assert tip_depth_mm(length, 90) == length


@given(st.floats(5, 40), st.floats(0, 5))
def test_leaving_more_outside_reaches_less_deep(length, outside):
    assert tip_depth_mm(length, 60, outside) <= tip_depth_mm(length, 60)


def test_track_in_muscle_is_longer_at_an_angle():
    assert track_in_muscle_mm(16, 9.4, 90) == pytest.approx(6.6)
    assert track_in_muscle_mm(16, 9.4, 45) > track_in_muscle_mm(16, 9.4, 90)


@given(st.sampled_from(["cook-2", "cook-4", "cook-6", "cook-18"]), lengths, st.floats(0, 5))
def test_asking_for_depth_in_muscle_never_changes_bone_depth(key, length, inside):
    tissue = tissue_of(studies()[key])
    asked, plain = shares(tissue, length, inside_mm=inside), shares(tissue, length)
    assert asked.bone_depth == plain.bone_depth
    assert asked.short >= plain.short - SMALL


@pytest.mark.parametrize("rho", [-0.3, 0.0, 0.5])
def test_half_are_at_bone_depth_at_the_mean_depth_of_bone(rho):
    assert shares(tissue_of(studies()["cook-6"]), 25.0, rho).bone_depth == pytest.approx(0.5)


@pytest.mark.parametrize("rho", [-0.3, 0.0, 0.5])
@pytest.mark.parametrize(("age", "length", "angle"), [(2, 16, 90), (4, 25, 45), (18, 22, 90)])
def test_simulated_children_give_the_closed_form(age, length, angle, rho):
    # 40 000 children drawn from the published layers; 3 standard errors of a share near 0.5
    tissue = tissue_of(studies()[f"cook-{age}"])
    depth = tip_depth_mm(length, angle)
    random = Random(9)
    tally = [0, 0, 0]
    total = 40_000
    for _ in range(total):
        a, b = random.gauss(0, 1), random.gauss(0, 1)
        fat = tissue.s_mm + tissue.s_sd_mm * a
        muscle = tissue.m_mm + tissue.m_sd_mm * (rho * a + sqrt(1 - rho**2) * b)
        tally[0 if depth < fat else 1 if depth < fat + muscle else 2] += 1
    expected = shares(tissue, depth, rho)
    found = [count / total for count in tally]
    assert found == pytest.approx(
        [expected.short, expected.in_muscle, expected.bone_depth], abs=0.0075
    )


def test_equal_questions_get_equal_answers():
    assert reach("thigh", 3.3, 5.2, 22, 70) == reach("thigh", 3.3, 5.2, 22, 70)


def test_each_doubt_widens_the_range():
    tissue = tissue_of(studies()["cook-4"])

    def width(correlation, between):
        deep = sorted(
            shares_of_draw(d, 22, skewed=False)[1] for d in draws(tissue, correlation, between)
        )
        return deep[1900] - deep[100]

    sampling = width((0, 0), (0, 0))
    assert 0 < sampling < width((0, 0), (1.0, 2.5))


@given(st.floats(2, 18))
def test_interpolated_layers_lie_between_the_anchors(age):
    tissue = find_tissue("thigh", age, None).tissue
    assert 8.1 <= tissue.s_mm <= 10.2
    assert 10.5 <= tissue.m_mm <= 16.5


def test_fat_peaks_in_mid_infancy_and_is_not_made_monotone():
    # Nakayama et al. and Cook & Murtagh 2002: thigh fat rises to 4-6 months, then falls
    fat = [find_tissue("thigh", age, None).tissue.s_mm for age in (0, 2, 4, 6, 12, 18)]
    assert fat[:4] == sorted(fat[:4])
    assert fat[3:] == sorted(fat[3:], reverse=True)
