"""The thigh series of Cook & Murtagh 2002 (Aust Fam Physician 31(3):295-297).

Expected shares: needle-reach.md section 5, computed there from the published means and SDs by
the joint normal, correlation 0, tissue at rest; tolerance half a unit of the last place printed.
"""

from __future__ import annotations

import pytest

from traywise.equipment.reach.answer import reach
from traywise.equipment.reach.geometry import tip_depth_mm
from traywise.equipment.reach.probability import draws, shares, shares_of_draw
from traywise.equipment.reach.studies import setting, studies
from traywise.equipment.reach.tissue import tissue_of

TWO_DECIMALS = 0.0051
ONE_DECIMAL = 0.051

# angle, length, age: short, in muscle, bone depth, all in percent
SERIES = [
    (90, 16, 2, 0.68, 78.33, 20.99),
    (90, 16, 4, 0.05, 97.57, 2.39),
    (90, 16, 6, 0.29, 99.62, 0.10),
    (90, 16, 18, 0.00, 96.03, 3.97),
    (90, 22, 2, 0.00, 22.52, 77.48),
    (90, 22, 4, 0.00, 44.38, 55.62),
    (90, 22, 6, 0.00, 84.95, 15.05),
    (90, 22, 18, 0.00, 70.20, 29.80),
    (90, 25, 2, 0.00, 6.23, 93.77),
    (90, 25, 4, 0.00, 11.47, 88.53),
    (90, 25, 6, 0.00, 50.00, 50.00),
    (90, 25, 18, 0.00, 46.75, 53.25),
    (45, 16, 2, 18.28, 79.58, 2.13),
    (45, 16, 4, 16.93, 83.05, 0.01),
    (45, 16, 6, 29.79, 70.21, 0.00),
    (45, 16, 18, 2.94, 96.73, 0.34),
    (45, 22, 2, 1.02, 81.16, 17.82),
    (45, 22, 4, 0.10, 98.26, 1.63),
    (45, 22, 6, 0.54, 99.41, 0.06),
    (45, 22, 18, 0.00, 96.74, 3.26),
    (45, 25, 2, 0.12, 64.32, 35.56),
    (45, 25, 4, 0.00, 91.72, 8.28),
    (45, 25, 6, 0.02, 99.40, 0.58),
    (45, 25, 18, 0.00, 92.10, 7.90),
]


@pytest.mark.parametrize(("angle", "length", "age", "short", "in_muscle", "bone"), SERIES)
def test_middle_shares_are_those_of_the_2002_series(angle, length, age, short, in_muscle, bone):
    answer = reach("thigh", age, None, length, angle)
    assert answer.evidence == "measured"
    assert 100 * answer.short.mid == pytest.approx(short, abs=TWO_DECIMALS)
    assert 100 * answer.in_muscle.mid == pytest.approx(in_muscle, abs=TWO_DECIMALS)
    assert 100 * answer.bone_depth.mid == pytest.approx(bone, abs=TWO_DECIMALS)


# in muscle and bone depth, percent, at correlations -0.3, 0.3, 0.5 (same section)
CORRELATED = [
    (90, 16, 2, (82.5, 75.4, 73.9), (16.9, 23.9, 25.4)),
    (90, 22, 4, (43.3, 45.1, 45.4), (56.7, 54.9, 54.6)),
    (90, 25, 6, (50.0, 50.0, 50.0), (50.0, 50.0, 50.0)),
    (45, 25, 18, (94.2, 90.2, 89.0), (5.8, 9.8, 11.0)),
]


@pytest.mark.parametrize(("angle", "length", "age", "in_muscle", "bone"), CORRELATED)
def test_correlation_moves_bone_depth_not_the_share_short(angle, length, age, in_muscle, bone):
    tissue = tissue_of(studies()[f"cook-{age}"])
    depth = tip_depth_mm(length, angle)
    found = [shares(tissue, depth, rho) for rho in (-0.3, 0.3, 0.5)]
    assert [100 * s.in_muscle for s in found] == pytest.approx(in_muscle, abs=ONE_DECIMAL)
    assert [100 * s.bone_depth for s in found] == pytest.approx(bone, abs=ONE_DECIMAL)
    assert len({round(s.short, 12) for s in found}) == 1


# name, length, angle, outside, inside: short/in/bone at 2, 4, 6, 18 months (section 5, sensitivity)
VARIANTS = [
    (16, 90, 0, 2, [(3.6, 75.4, 21.0), (1.1, 96.5, 2.4), (3.5, 96.4, 0.1), (0.0, 96.0, 4.0)]),
    (16, 90, 0, 5, [(21.2, 57.8, 21.0), (21.2, 76.4, 2.4), (35.2, 64.7, 0.1), (4.4, 91.6, 4.0)]),
    (16, 90, 2.5, 0, [(5.1, 87.6, 7.2), (2.0, 97.8, 0.2), (5.8, 94.2, 0.0), (0.1, 98.7, 1.2)]),
    (25, 90, 2.5, 0, [(0.0, 18.8, 81.2), (0.0, 37.5, 62.5), (0.0, 80.6, 19.4), (0.0, 66.6, 33.4)]),
    (25, 45, 2.5, 0, [(0.7, 78.9, 20.3), (0.1, 97.7, 2.2), (0.3, 99.6, 0.1), (0.0, 96.2, 3.8)]),
    (25, 60, 0, 0, [(0.0, 25.3, 74.7), (0.0, 49.3, 50.7), (0.0, 87.6, 12.4), (0.0, 72.6, 27.4)]),
    (12.7, 90, 0, 0, [(8.6, 86.6, 4.8), (4.9, 95.0, 0.1), (11.7, 88.3, 0.0), (0.3, 98.9, 0.8)]),
]


@pytest.mark.parametrize(("length", "angle", "outside", "inside", "by_age"), VARIANTS)
def test_variants_of_technique(length, angle, outside, inside, by_age):
    for age, expected in zip((2, 4, 6, 18), by_age, strict=True):
        tissue = tissue_of(studies()[f"cook-{age}"])
        found = shares(tissue, tip_depth_mm(length, angle, outside), inside_mm=inside)
        shown = [100 * found.short, 100 * found.in_muscle, 100 * found.bone_depth]
        assert shown == pytest.approx(expected, abs=ONE_DECIMAL), age


# 90% interval of sampling error alone, percent (section 5, last columns); simulated, so within 2.
SAMPLING = [
    (90, 16, 2, (63, 90), (9, 36)),
    (90, 22, 4, (27, 63), (37, 73)),
    (90, 25, 18, (27, 66), (34, 73)),
    (45, 16, 6, (56, 85), (0, 0)),
    (45, 25, 2, (47, 80), (19, 53)),
]


@pytest.mark.parametrize(("angle", "length", "age", "in_muscle", "bone"), SAMPLING)
def test_sampling_error_alone_gives_the_published_interval(angle, length, age, in_muscle, bone):
    tissue = tissue_of(studies()[f"cook-{age}"])
    pairs = [
        shares_of_draw(draw, tip_depth_mm(length, angle), skewed=False)
        for draw in draws(tissue, (0.0, 0.0), (0.0, 0.0))
    ]
    inside = sorted(100 * (1 - short - deep) for short, deep in pairs)
    deep = sorted(100 * deep for _, deep in pairs)
    assert (inside[100], inside[1900]) == pytest.approx(in_muscle, abs=2)
    assert (deep[100], deep[1900]) == pytest.approx(bone, abs=2)


def test_a_new_child_is_less_certain_than_the_study():
    # needle-reach.md section 4.7: 16 mm at 90 and 25 mm at 45 degrees, sampling and spread together
    for length, angle, expected in (
        (16, 90, (73.4, 92.5, 98.2, 93.5)),
        (25, 45, (61.6, 84.5, 96.9, 88.8)),
    ):
        found = []
        for age in (2, 4, 6, 18):
            tissue = tissue_of(studies()[f"cook-{age}"])
            spread = (setting("between-studies-s-mm"), setting("between-studies-t-mm"))
            pairs = [
                shares_of_draw(draw, tip_depth_mm(length, angle), skewed=False)
                for draw in draws(tissue, (0.0, 0.0), spread)
            ]
            found.append(100 * sum(1 - short - deep for short, deep in pairs) / len(pairs))
        assert found == pytest.approx(expected, abs=1.5)


@pytest.mark.parametrize("age", [2, 4, 6, 18])
def test_conclusion_16_mm_straight_beats_25_mm_straight(age):
    # Cook & Murtagh 2002, conclusion C1
    straight = [reach("thigh", age, None, length, 90).in_muscle.mid for length in (16, 25)]
    assert straight[0] > straight[1]
    assert reach("thigh", age, None, 25, 45).short.mid <= 0.002
