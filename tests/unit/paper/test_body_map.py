"""Marks sit on the right limb and side; the figure faces the reader."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traywise.calendar import Age
from traywise.paper.body_map import MIDDLE, WIDTH, Mark, body_map_svg
from traywise.paper.figures import FIGURES, figure_for

SVG = "{http://www.w3.org/2000/svg}"


def places(svg: str) -> dict[int, tuple[str, float, float, float, float]]:
    """Number -> side, point on the body (x, y), number's place (x, y)."""
    found = {}
    for group in ET.fromstring(svg).iter(f"{SVG}g"):  # noqa: S314 - our own drawing
        if "data-place" not in group.attrib:
            continue
        dot = next(group.iter(f"{SVG}circle"))
        number = next(group.iter(f"{SVG}text"))
        found[int(group.attrib["data-place"])] = (
            group.attrib["data-side"],
            float(dot.attrib["cx"]),
            float(dot.attrib["cy"]),
            float(number.attrib["x"]),
            float(number.attrib["y"]),
        )
    return found


@pytest.mark.parametrize("figure", FIGURES)
@pytest.mark.parametrize(
    ("site", "side"),
    [
        ("LT", "left"),
        ("RT", "right"),
        ("LD", "left"),
        ("RD", "right"),
        ("LA", "left"),
        ("RA", "right"),
        ("LVL", "left"),
        ("RVL", "right"),
    ],
)
def test_a_mark_sits_on_the_childs_own_side(figure: str, site: str, side: str) -> None:
    found, x, _, number_x, _ = places(body_map_svg(figure, [Mark(1, site)]))[1]
    assert side == found
    # Facing the reader, the child's left is on the reader's right.
    assert (x > MIDDLE) == (side == "left")
    assert (number_x > MIDDLE) == (side == "left")


@pytest.mark.parametrize("figure", FIGURES)
def test_upper_is_above_lower_and_the_arm_above_the_thigh(figure: str) -> None:
    marks = [Mark(1, "RT", "lower"), Mark(2, "RT", "upper"), Mark(3, "RD"), Mark(4, "LT")]
    found = places(body_map_svg(figure, marks))
    assert found[2][2] < found[1][2]
    assert found[3][2] < found[2][2]
    assert found[2][2] < found[4][2] < found[1][2]


def test_mouth_and_nose_are_in_the_face() -> None:
    found = places(body_map_svg("toddler", [Mark(1, None, None, "PO"), Mark(2, None, None, "NAS")]))
    assert found[1][1] == MIDDLE == found[2][1]
    assert found[2][2] < found[1][2], "the nose is above the mouth"


def test_route_is_told_by_shape_and_word() -> None:
    svg = body_map_svg("child", [Mark(1, "LD"), Mark(2, "RA", None, "SC")])
    assert ">IM<" in svg
    assert ">SC<" in svg
    assert "IM into muscle" in svg
    assert "SC under the skin" in svg


def test_sides_and_description_are_written() -> None:
    svg = body_map_svg("infant", [Mark(2, "LT"), Mark(1, None, None, "PO")])
    assert "child’s right" in svg
    assert "child’s left" in svg
    assert "<title>Body map: infant" in svg
    assert "1: by mouth. 2: left thigh, into muscle (IM)." in svg


def test_a_site_off_the_figure_is_written_not_dropped() -> None:
    svg = body_map_svg("child", [Mark(5, "LVG"), Mark(6, "LG"), Mark(7, "<x>")])
    assert "5: left hip, ventrogluteal (not on this figure)" in svg
    assert "6: left gluteus medius (not on this figure)" in svg
    assert "7: &lt;x&gt; (not on this figure)" in svg
    assert places(svg) == {}


def test_a_limb_to_avoid_says_so() -> None:
    assert "do not use" not in body_map_svg("child", [])
    assert "do not use" in body_map_svg("child", [], avoid=("LA",))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["LT", "RT", "LD", "RD", "LA", "RA", None]),
            st.sampled_from(["upper", "lower", None]),
        ),
        max_size=8,
    ),
    st.sampled_from(sorted(FIGURES)),
)
def test_every_number_is_drawn_once_and_none_covers_another(
    sites: list[tuple[str | None, str | None]], figure: str
) -> None:
    marks = [
        Mark(n, site, position, "IM" if site else "PO")
        for n, (site, position) in enumerate(sites, start=1)
    ]
    found = places(body_map_svg(figure, marks))
    assert sorted(found) == [mark.n for mark in marks]
    for side in ("left", "right"):
        heights = sorted(y for s, _, _, _, y in found.values() if s == side)
        assert all(b - a >= 27 for a, b in pairwise(heights))
    assert all(0 < x < WIDTH and 0 < y < FIGURES[figure].height for _, _, _, x, y in found.values())


@pytest.mark.parametrize(
    ("months", "figure"),
    [
        (0, "infant"),
        (11, "infant"),
        (12, "toddler"),
        (35, "toddler"),
        (36, "child"),
        (131, "child"),
        (132, "adolescent"),
        (227, "adolescent"),
    ],
)
def test_the_figure_follows_the_age(months: int, figure: str) -> None:
    assert figure == figure_for(Age(months, 0, months * 30))
