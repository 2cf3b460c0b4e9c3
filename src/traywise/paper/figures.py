"""The four figures of the body map as data: limbs as round strokes, and where a mark may sit.

Only the child's left half is written down (x counts from the middle line towards the child's
left, y downwards); the right half is its mirror. The figure looks at the reader, so the child's
left is on the reader's right. Proportions and the ages at which the figure changes are a drawing
choice, no clinical rule.
"""

from __future__ import annotations

from typing import NamedTuple

from traywise.calendar import Age


class Stroke(NamedTuple):
    """A round stroke through points, ``width`` thick."""

    points: tuple[tuple[float, float], ...]
    width: float


class Spot(NamedTuple):
    """A line on the skin along which marks of one site sit, from ``start`` to ``end``.

    Upper marks sit at the start, lower ones at the end, one alone in the middle.
    """

    start: tuple[float, float]
    end: tuple[float, float]


class Figure(NamedTuple):
    """One figure; head as (y, half width, half height); cloth as a closed path, mirrored."""

    words: str
    height: float
    head: tuple[float, float, float]
    hair: str
    face: tuple[float, float, float]  # y of eyes, nose, mouth
    eyes_closed: bool
    strokes: tuple[Stroke, ...]
    cloth: tuple[tuple[float, float], ...]
    thigh: Spot
    deltoid: Spot
    arm: Spot


INFANT = Figure(
    words="infant, lying on the back",
    height=338,
    head=(66, 45, 47),
    hair="M-9 -47 q9 -12 18 -3",
    face=(70, 80, 91),
    eyes_closed=True,
    strokes=(
        Stroke(((0, 100), (0, 120)), 34),  # neck
        Stroke(((0, 138), (0, 196)), 82),  # trunk
        Stroke(((30, 126), (72, 146)), 34),  # upper arm
        Stroke(((72, 146), (94, 112)), 28),  # forearm, raised as infants lie
        Stroke(((94, 112), (96, 104)), 24),  # hand
        Stroke(((20, 212), (74, 250)), 50),  # thigh
        Stroke(((74, 250), (50, 306)), 36),  # lower leg
        Stroke(((50, 306), (64, 322)), 24),  # foot
    ),
    cloth=((0, 188), (41, 194), (46, 216), (26, 240), (10, 246), (0, 246)),
    thigh=Spot((53, 219), (83, 243)),
    deltoid=Spot((43, 124), (62, 133)),
    arm=Spot((52, 128), (70, 136)),
)

TODDLER = Figure(
    words="toddler, standing",
    height=358,
    head=(58, 37, 40),
    hair="M-37 -6 q2 -36 37 -36 q35 0 37 36 q-10 -18 -37 -18 q-27 0 -37 18 Z",
    face=(60, 69, 79),
    eyes_closed=False,
    strokes=(
        Stroke(((0, 92), (0, 114)), 28),
        Stroke(((0, 136), (0, 196)), 72),
        Stroke(((-16, 122), (16, 122)), 48),  # shoulders
        Stroke(((34, 122), (62, 166)), 28),
        Stroke(((62, 166), (74, 206)), 23),
        Stroke(((74, 206), (76, 214)), 21),
        Stroke(((19, 206), (25, 272)), 40),
        Stroke(((25, 272), (25, 334)), 31),
        Stroke(((25, 342), (35, 345)), 21),
    ),
    cloth=((0, 188), (37, 190), (40, 214), (41, 226), (3, 234), (0, 226)),
    thigh=Spot((40, 240), (40, 268)),
    deltoid=Spot((46, 121), (58, 140)),
    arm=Spot((58, 139), (70, 160)),
)

CHILD = Figure(
    words="child, standing",
    height=382,
    head=(50, 30, 34),
    hair="M-30 -3 q0 -33 30 -33 q30 0 30 33 q-8 -17 -30 -17 q-22 0 -30 17 Z",
    face=(51, 60, 69),
    eyes_closed=False,
    strokes=(
        Stroke(((0, 80), (0, 100)), 23),
        Stroke(((0, 130), (0, 192)), 66),
        Stroke(((-23, 112), (23, 112)), 38),
        Stroke(((40, 112), (62, 162)), 25),
        Stroke(((62, 162), (75, 212)), 20),
        Stroke(((75, 212), (78, 222)), 19),
        Stroke(((18, 204), (24, 282)), 38),
        Stroke(((24, 282), (25, 358)), 28),
        Stroke(((25, 366), (36, 370)), 19),
    ),
    cloth=((0, 182), (34, 183), (37, 206), (39, 232), (3, 236), (0, 222)),
    thigh=Spot((38, 246), (39, 277)),
    deltoid=Spot((51, 112), (61, 135)),
    arm=Spot((60, 128), (70, 153)),
)

ADOLESCENT = Figure(
    words="adolescent, standing",
    height=406,
    head=(44, 25, 30),
    hair="M-25 0 q-3 -33 25 -33 q28 0 25 33 q-6 -17 -25 -17 q-19 0 -25 17 Z",
    face=(45, 53, 61),
    eyes_closed=False,
    strokes=(
        Stroke(((0, 70), (0, 92)), 22),
        Stroke(((0, 126), (0, 190)), 64),
        Stroke(((-30, 106), (30, 106)), 38),
        Stroke(((48, 107), (66, 166)), 25),
        Stroke(((66, 166), (80, 222)), 20),
        Stroke(((80, 222), (84, 234)), 18),
        Stroke(((18, 200), (25, 292)), 39),
        Stroke(((25, 292), (26, 384)), 28),
        Stroke(((26, 390), (38, 394)), 18),
    ),
    cloth=((0, 180), (32, 181), (36, 204), (40, 242), (4, 246), (0, 222)),
    thigh=Spot((38, 254), (40, 290)),
    deltoid=Spot((56, 108), (63, 131)),
    arm=Spot((66, 126), (74, 155)),
)

FIGURES = {"infant": INFANT, "toddler": TODDLER, "child": CHILD, "adolescent": ADOLESCENT}

_FROM_MONTHS = ((132, "adolescent"), (36, "child"), (12, "toddler"), (0, "infant"))


def figure_for(age: Age) -> str:
    """The figure that looks like a child of this age: infant, toddler, child or adolescent.

    >>> figure_for(Age(months=11, days=30, total_days=364)), figure_for(Age(12, 0, 365))
    ('infant', 'toddler')
    """
    return next(name for months, name in _FROM_MONTHS if age.months >= months)
