"""The picture: to scale, readable without colour, and empty where nobody measured."""

from __future__ import annotations

import re
from math import hypot
from xml.etree import ElementTree

import pytest

from traywise.paper.reach_picture import PX_PER_MM, draw_cross_section, draw_reach_sheet

SVG = "{http://www.w3.org/2000/svg}"


def tree(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)  # noqa: S314  our own drawing


def texts(svg: str) -> list[str]:
    return ["".join(node.itertext()) for node in tree(svg).iter(f"{SVG}text")]


@pytest.mark.parametrize(
    ("site", "age", "kg", "length", "angle"),
    [
        ("thigh", 4, None, 25, 90),
        ("thigh", 2, 4.6, 22, 45),
        ("thigh", 0, 2.0, 12.7, 90),
        ("deltoid", 6, None, 16, 90),
        ("deltoid", 120, 33, 25, 90),
        ("thigh", 18, None, 38, 30),
    ],
)
def test_every_picture_is_well_formed_and_cautious(site, age, kg, length, angle):
    svg = draw_reach_sheet(site, age, kg, length, angle)
    assert "nan" not in svg
    assert any("second opinion" in text for text in texts(svg))
    assert f"{length:g} mm" in texts(svg)


@pytest.mark.parametrize("angle", [90, 45, 60])
def test_needles_are_drawn_at_their_length(angle):
    svg = draw_cross_section("thigh", 4, None, (16, 25), angle)
    shafts = [
        re.match(r"M0 -2\.6H[\d.]+L([\d.]+) 2\.6", path.get("d", ""))
        for path in tree(svg).iter(f"{SVG}path")
    ]
    lengths = [float(found[1]) / PX_PER_MM for found in shafts if found]
    assert lengths == pytest.approx([16, 25], abs=0.02)
    assert svg.count(f"rotate({angle})") == 2


def test_layers_are_drawn_at_the_measured_depths():
    bands = {
        node.get("fill"): float(node.get("height"))
        for node in tree(draw_cross_section("thigh", 4, None, (16,))).iter(f"{SVG}rect")
        if str(node.get("fill")).startswith("url")
    }
    # Cook & Murtagh 2002, 4 months: 9.4 mm skin and fat, 12.2 mm muscle
    assert bands["url(#fat)"] / PX_PER_MM == pytest.approx(9.4, abs=0.02)
    assert bands["url(#muscle)"] / PX_PER_MM == pytest.approx(12.2, abs=0.02)


def test_ruler_and_tissue_share_one_scale():
    marks = re.search(r"M42\.0 ([\d.]+)V([\d.]+)", draw_cross_section("thigh", 4, None, (25,)))
    assert marks is not None
    assert hypot(0, float(marks[2]) - float(marks[1])) / PX_PER_MM >= 28


def test_without_evidence_there_are_needles_but_no_layers_and_no_shares():
    svg = draw_reach_sheet("deltoid", 36, None, 25)
    assert 'fill="url(#muscle)"' not in svg
    assert "No evidence" in texts(svg)
    assert not [text for text in texts(svg) if text.startswith("in muscle")]
