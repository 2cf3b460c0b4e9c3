"""The body map: our own figure with the places of a tray on it, as one SVG text.

Comes in: a figure name and marks (number, site, position, route). Goes out: an SVG that needs
no colour to be read: number, word and shape say everything. It never decides a site.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import NamedTuple

from traywise.paper.figures import FIGURES, Figure, Spot, Stroke
from traywise.paper.wording import ROUTES, site_words
from traywise.rulebook.codes import site_codes

WIDTH = 364
MIDDLE = WIDTH / 2
TAG_X = 54  # distance of a number from the edge
TAG_STEP = 33  # least distance of two numbers above each other
INK, QUIET, LINE, SKIN = "#17202b", "#4c5765", "#8f7a63", "#f6ecdf"
SCREEN_FONT = "'Source Sans 3','Noto Sans','Segoe UI',Roboto,Arial,sans-serif"


class Mark(NamedTuple):
    """One place of the tray. ``site``: HL7 0163, None by mouth or nose; ``position``: in a limb."""

    n: int
    site: str | None
    position: str | None = None
    route: str = "IM"


class _Anchored(NamedTuple):
    mark: Mark
    x: float
    y: float
    side: int  # -1 the reader's left, which is the child's right; 1 the other


def body_map_svg(
    figure: str,
    marks: Sequence[Mark],
    *,
    avoid: Sequence[str] = (),
    font_family: str = SCREEN_FONT,
) -> str:
    """The figure with numbered marks on the right limbs.

    figure  infant, toddler, child or adolescent; raises KeyError for any other
    marks   one a place; a site that the map does not show is written below the figure
    avoid   limbs not to use (LT, RT, LA, RA): crossed out
    returns SVG text, 364 units wide, with title and description
    """
    drawn = FIGURES[figure]
    anchored, elsewhere = _anchor(drawn, marks)
    foot = drawn.height
    lines = [f"{mark.n}: {site_words(mark.site, mark.route)}" for mark in elsewhere]
    height = foot + 26 + 18 * len(lines)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:g}" '
        f'width="{WIDTH}" height="{height:g}" role="img" '
        f'font-family="{escape(font_family)}">',
        f"<title>Body map: {escape(drawn.words)}</title>",
        f"<desc>{escape(describe_marks(marks))}</desc>",
        *_body(drawn),
        *(_cross(drawn, limb) for limb in avoid if limb in ("LT", "RT", "LA", "RA")),
        _side_words(),
        *_tags(anchored),
        _legend(marks, foot + 20),
    ]
    parts += [
        f'<text x="{MIDDLE:g}" y="{foot + 38 + 18 * i}" font-size="13" fill="{INK}" '
        f'text-anchor="middle">{escape(line)} (not on this figure)</text>'
        for i, line in enumerate(lines)
    ]
    return "".join(parts) + "</svg>"


def describe_marks(marks: Sequence[Mark]) -> str:
    """The map in words, for those who cannot see it.

    >>> describe_marks([Mark(2, "LT", "upper"), Mark(1, None, None, "PO")])
    '1: by mouth. 2: left thigh, upper, into muscle (IM).'
    """
    if not marks:
        return "No place is marked."
    words = []
    for mark in sorted(marks, key=lambda m: m.n):
        where = [site_words(mark.site, mark.route)]
        if mark.position:
            where.append(mark.position)
        if mark.site:
            where.append(ROUTES.get(mark.route, mark.route))
        words.append(f"{mark.n}: {', '.join(where)}.")
    return " ".join(words)


# Where a mark sits


def _anchor(figure: Figure, marks: Sequence[Mark]) -> tuple[list[_Anchored], list[Mark]]:
    spots: dict[tuple[str, int], list[Mark]] = {}
    anchored: list[_Anchored] = []
    elsewhere: list[Mark] = []
    for mark in marks:
        if mark.site is None and mark.route in ("PO", "NAS"):
            _, nose, mouth = figure.face
            # Mouth to the child's right, nose to the left: the two lines never cross.
            side = -1 if mark.route == "PO" else 1
            anchored.append(_Anchored(mark, MIDDLE, mouth if mark.route == "PO" else nose, side))
            continue
        found = _spot_of(mark.site)
        if found is None:
            elsewhere.append(mark)
        else:
            spots.setdefault(found, []).append(mark)
    for (name, side), group in spots.items():
        spot: Spot = getattr(figure, name)
        for mark, share in zip(_down_the_limb(group), _shares(group), strict=True):
            x = spot.start[0] + (spot.end[0] - spot.start[0]) * share
            y = spot.start[1] + (spot.end[1] - spot.start[1]) * share
            anchored.append(_Anchored(mark, MIDDLE + side * x, y, side))
    return anchored, elsewhere


def _spot_of(site: str | None) -> tuple[str, int] | None:
    """Which spot of the figure, and on which side; None for what the figure does not show."""
    known = site_codes().get(site or "")
    if known is None or known.limb not in ("LT", "RT", "LA", "RA") or "forearm" in known.name:
        return None
    side = 1 if known.limb.startswith("L") else -1
    if known.limb in ("LT", "RT"):
        return "thigh", side
    return ("deltoid" if "deltoid" in known.name else "arm"), side


_DEPTH = {"upper": 0, None: 1, "lower": 2}


def _down_the_limb(group: list[Mark]) -> list[Mark]:
    return sorted(group, key=lambda m: (_DEPTH.get(m.position, 1), m.n))


def _shares(group: list[Mark]) -> list[float]:
    """How far along the spot each mark sits, top to bottom."""
    if len(group) == 1:
        return [_DEPTH.get(group[0].position, 1) / 2]
    return [i / (len(group) - 1) for i in range(len(group))]


# Drawing


def _body(figure: Figure) -> list[str]:
    head_y, half_width, half_height = figure.head
    strokes = [s for stroke in figure.strokes for s in _both_sides(stroke)]
    out = ['<g fill="none" stroke-linecap="round" stroke-linejoin="round">']
    # The dark pass first and the light one over it: the limbs join in one outline.
    for colour, extra in ((LINE, 3.2), (SKIN, 0.0)):
        out += [_stroke(points, width + extra, colour) for points, width in strokes]
        out.append(
            f'<ellipse cx="{MIDDLE:g}" cy="{head_y:g}" rx="{half_width + extra / 2:g}" '
            f'ry="{half_height + extra / 2:g}" fill="{colour}"/>'
        )
    out.append("</g>")
    return [*out, _cloth(figure), _face(figure)]


def _both_sides(stroke: Stroke) -> list[tuple[list[tuple[float, float]], float]]:
    left = [(MIDDLE + x, y) for x, y in stroke.points]
    right = [(MIDDLE - x, y) for x, y in stroke.points]
    return (
        [(left, stroke.width)] if left == right else [(left, stroke.width), (right, stroke.width)]
    )


def _stroke(points: list[tuple[float, float]], width: float, colour: str) -> str:
    path = " ".join(f"{x:g},{y:g}" for x, y in points)
    return f'<polyline points="{path}" stroke="{colour}" stroke-width="{width:g}"/>'


def _cloth(figure: Figure) -> str:
    left = [(MIDDLE + x, y) for x, y in figure.cloth]
    right = [(MIDDLE - x, y) for x, y in reversed(figure.cloth)]
    path = " L".join(f"{x:g} {y:g}" for x, y in [*left, *right])
    return (
        f'<path d="M{path} Z" fill="#ffffff" stroke="{LINE}" stroke-width="1.5" '
        'stroke-linejoin="round"/>'
    )


def _face(figure: Figure) -> str:
    eyes, nose, mouth = figure.face
    reach = figure.head[1] * 0.36
    if figure.eyes_closed:
        drawn = "".join(f'<path d="M{s * reach - 5:g} {eyes:g} q5 4 10 0"/>' for s in (-1, 1))
    else:
        drawn = "".join(
            f'<circle cx="{s * reach:g}" cy="{eyes:g}" r="2" fill="{LINE}"/>' for s in (-1, 1)
        )
    head_y = figure.head[0]
    filled = LINE if figure.hair.endswith("Z") else "none"
    return (
        f'<g transform="translate({MIDDLE:g} 0)" fill="none" stroke="{LINE}" stroke-width="1.7" '
        f'stroke-linecap="round">{drawn}<path d="M-2 {nose:g} q2 2 4 0"/>'
        f'<path d="M-7 {mouth:g} q7 5 14 0"/>'
        f'<path d="{figure.hair}" transform="translate(0 {head_y:g})" fill="{filled}"/></g>'
    )


def _side_words() -> str:
    return (
        f'<g font-size="17" font-weight="600" fill="{QUIET}">'
        '<text x="4" y="16">child’s right</text>'
        f'<text x="{WIDTH - 4}" y="16" text-anchor="end">child’s left</text></g>'
    )


def _cross(figure: Figure, limb: str) -> str:
    spot = figure.thigh if limb in ("LT", "RT") else figure.deltoid
    side = 1 if limb.startswith("L") else -1
    x = MIDDLE + side * (spot.start[0] + spot.end[0]) / 2 - side * 10
    y = (spot.start[1] + spot.end[1]) / 2
    return (
        f'<g stroke="{INK}" stroke-width="5" stroke-linecap="round">'
        f'<path d="M{x - 15:g} {y - 15:g} l30 30 M{x + 15:g} {y - 15:g} l-30 30"/></g>'
        f'<text x="{x:g}" y="{y + 32:g}" font-size="13" font-weight="700" fill="{INK}" '
        'stroke="#ffffff" stroke-width="3.5" paint-order="stroke" '
        'text-anchor="middle">do not use</text>'
    )


def _tags(anchored: list[_Anchored]) -> list[str]:
    out = []
    for side in (-1, 1):
        column = sorted((a for a in anchored if a.side == side), key=lambda a: a.y)
        for item, y in zip(column, _spread([a.y for a in column]), strict=True):
            out.append(_tag(item, TAG_X if side < 0 else WIDTH - TAG_X, y))
    return out


def _spread(wanted: list[float]) -> list[float]:
    """Heights of the numbers: at their places if they can, TAG_STEP apart if they must."""
    heights = list(wanted)
    for _ in range(2 * len(heights)):
        for i in range(1, len(heights)):
            gap = heights[i] - heights[i - 1]
            if gap < TAG_STEP:
                heights[i - 1] -= (TAG_STEP - gap) / 2
                heights[i] += (TAG_STEP - gap) / 2
    lift = max(0.0, 44 - heights[0]) if heights else 0.0
    return [height + lift for height in heights]


def _tag(item: _Anchored, x: float, y: float) -> str:
    inner = x + (15 if item.side < 0 else -15)
    short = {"PO": "oral", "NAS": "nasal"}.get(item.mark.route, item.mark.route)
    return (
        f'<g data-place="{item.mark.n}" data-side="{"right" if item.side < 0 else "left"}">'
        f'<path d="M{item.x:g} {item.y:g} L{inner:g} {y:g}" stroke="{INK}" stroke-width="1.5"/>'
        f'<circle cx="{item.x:g}" cy="{item.y:g}" r="4.5" fill="{INK}" stroke="#ffffff" '
        'stroke-width="1.2"/>'
        f"{_shape(item.mark.route, x, y)}"
        f'<text x="{x:g}" y="{y + 6:g}" font-size="17" font-weight="700" text-anchor="middle" '
        f'fill="{"#ffffff" if item.mark.route == "IM" else INK}">{item.mark.n}</text>'
        f'<text x="{x + item.side * 22:g}" y="{y + 4.5:g}" font-size="14" font-weight="600" '
        f'text-anchor="{"end" if item.side < 0 else "start"}" fill="{INK}">{escape(short)}</text>'
        "</g>"
    )


def _shape(route: str, x: float, y: float) -> str:
    """IM a full disc, SC an open diamond, ID an open triangle, mouth and nose an open ring."""
    line = f'fill="#ffffff" stroke="{INK}" stroke-width="2"'
    if route == "IM":
        return f'<circle cx="{x:g}" cy="{y:g}" r="14" fill="{INK}"/>'
    if route == "SC":
        return f'<path d="M{x:g} {y - 17:g} l17 17 l-17 17 l-17 -17 Z" {line}/>'
    if route == "ID":
        return f'<path d="M{x:g} {y - 20:g} l19 32 h-38 Z" {line}/>'
    return f'<circle cx="{x:g}" cy="{y:g}" r="14" {line}/>'


def _legend(marks: Sequence[Mark], y: float) -> str:
    names = {"IM": "● IM into muscle", "SC": "◇ SC under the skin", "ID": "△ ID into the skin"}
    words = [names[route] for route in names if any(m.route == route for m in marks)]
    return (
        f'<text x="{MIDDLE:g}" y="{y:g}" font-size="14" fill="{QUIET}" '
        f'text-anchor="middle">{escape("   ".join(words))}</text>'
    )
