"""The needle is true to scale and its colour never stands alone."""

from __future__ import annotations

import re

import pytest

from traywise.paper.hub_colours import hub_colours
from traywise.paper.needle_drawing import NEEDLE_FROM_MM, needle_svg
from traywise.tray.plan import Needle


@pytest.mark.parametrize("length_mm", [10, 13, 16, 25, 32, 38, 51])
def test_needle_and_ruler_are_true_in_millimetres(length_mm: int) -> None:
    svg = needle_svg(Needle(gauge=23, length_mm=length_mm), "1 mL syringe")
    view = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)" width="([\d.]+)mm" height="([\d.]+)mm"', svg)
    assert view is not None
    assert view[1] == view[3], "one unit is one millimetre"
    assert view[2] == view[4]
    drawn = re.search(r'class="needle"[^>]* d="M([\d.]+) [^L]*L([\d.]+) ', svg)
    assert drawn is not None
    assert float(drawn[2]) - float(drawn[1]) == pytest.approx(length_mm)
    ticks = {float(x) for x in re.findall(r'<path d="M([\d.]+) 8\.6 v-', svg)}
    assert NEEDLE_FROM_MM + length_mm in ticks
    assert float(view[1]) > NEEDLE_FROM_MM + length_mm, "it fits on the drawing"


@pytest.mark.parametrize(
    ("gauge", "word"),  # ISO 6009, from memory
    [(21, "deep green"), (22, "black"), (23, "deep blue"), (25, "orange"), (26, "brown")],
)
def test_the_hub_has_the_colour_of_its_gauge_and_says_it(gauge: int, word: str) -> None:
    svg = needle_svg(Needle(gauge=gauge, length_mm=25), "1 mL syringe")
    assert f"{word} hub" in svg
    assert hub_colours()[gauge].paint in svg


def test_an_unknown_gauge_gets_no_colour() -> None:
    svg = needle_svg(Needle(gauge=33, length_mm=13), "1 mL syringe")
    assert "hub colour not in our table" in svg
    assert not any(row.paint in svg for row in hub_colours().values())


def test_thinner_needles_are_drawn_thinner() -> None:
    thickness = [row.outer_mm for _, row in sorted(hub_colours().items())]
    assert thickness == sorted(thickness, reverse=True)


@pytest.mark.parametrize(("route", "tool"), [("PO", "oral applicator"), ("NAS", "nasal sprayer")])
def test_without_a_needle_the_drawing_says_so(route: str, tool: str) -> None:
    svg = needle_svg(None, tool, route=route)
    assert "no needle" in svg
    assert tool in svg
    assert "mm</text>" not in svg, "no ruler where there is nothing to measure"


def test_an_injection_without_needle_is_marked() -> None:
    svg = needle_svg(None, "1 mL syringe", missing="25 mm & longer")
    assert "▲ no needle chosen" in svg
    assert "25 mm &amp; longer" in svg
