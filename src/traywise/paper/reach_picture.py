"""The picture beside the second opinion: a cross-section to scale, and reach against age.

All depths are millimetres at one scale, with a ruler. Layers differ by pattern as well as
colour, so that the picture reads in grey. The sheet is one SVG for screen and paper.
"""

from __future__ import annotations

from html import escape
from math import cos, radians, sin

from traywise.equipment.reach.answer import ReachAnswer, Share, reach
from traywise.equipment.reach.compare import of_100
from traywise.paper.reach_curve import CURVE_HEIGHT, curve_group

WIDTH = 640
PX_PER_MM = 7.6
FONT = "'Source Sans 3','Noto Sans','Segoe UI',Roboto,Arial,sans-serif"
INK, QUIET, RULE, PAPER = "#17202b", "#4c5765", "#b9b3a2", "#fbfaf5"
SKIN, FAT, MUSCLE, BONE = "#a08c76", "#f6e7bd", "#e2a79c", "#efece2"
LEFT, RIGHT = 46.0, 414.0  # tissue from LEFT to RIGHT; words stand to the right of it
HUB_MM = 7.0
DEEPEST_MM = 60.0
CAUTION = "A second opinion from scans. The length of your authority's table stands."
STANDARD_LENGTHS_MM = (16.0, 25.0)

PATTERNS = f"""<defs>
<pattern id="fat" width="9" height="9" patternUnits="userSpaceOnUse"><rect width="9" height="9"
 fill="{FAT}"/><circle cx="2.5" cy="2.5" r="1.1" fill="none" stroke="#c9b27a" stroke-width=".8"/>
<circle cx="7" cy="6.6" r="1.1" fill="none" stroke="#c9b27a" stroke-width=".8"/></pattern>
<pattern id="muscle" width="14" height="6" patternUnits="userSpaceOnUse"><rect width="14"
 height="6" fill="{MUSCLE}"/><path d="M0 3h14" stroke="#b46a5c" stroke-width=".8"/></pattern>
<pattern id="bone" width="8" height="8" patternUnits="userSpaceOnUse"><rect width="8" height="8"
 fill="{BONE}"/>
<path d="M0 8L8 0M-2 2L2 -2M6 10L10 6" stroke="#9a937f" stroke-width=".9"/></pattern>
</defs>"""


def draw_reach_sheet(
    site: str,
    age_months: float,
    weight_kg: float | None,
    length_mm: float,
    angle_deg: float = 90.0,
) -> str:
    """Cross-section and curve in one SVG, for the needle asked about and the usual lengths.

    raises  InputError for a question that cannot be asked
    """
    lengths = tuple(sorted({*STANDARD_LENGTHS_MM, float(length_mm)}))
    section, height = _section(site, age_months, weight_kg, lengths, angle_deg)
    curve = curve_group(site, age_months, length_mm, lengths, angle_deg)
    total = height + CURVE_HEIGHT + 24
    title = f"Reach at the {site}, {age_months:g} months, {angle_deg:g} degrees"
    return (
        _open_svg(total, title)
        + f'<g>{section}</g><g transform="translate(0 {height:g})">{curve}</g>'
        + f'<text x="{LEFT}" y="{total - 12:.0f}" font-size="13" fill="{INK}">{CAUTION}</text>'
        + "</svg>"
    )


def draw_cross_section(
    site: str,
    age_months: float,
    weight_kg: float | None,
    lengths_mm: tuple[float, ...],
    angle_deg: float = 90.0,
) -> str:
    """The cross-section alone, with one needle for each length at hand."""
    section, height = _section(site, age_months, weight_kg, lengths_mm, angle_deg)
    return _open_svg(height, f"Needles at the {site}, {age_months:g} months") + section + "</svg>"


def _open_svg(height: float, title: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:.0f}" '
        f'width="{WIDTH}" height="{height:.0f}" role="img" font-family="{escape(FONT)}" '
        f'font-size="14"><title>{escape(title)}</title>{PATTERNS}'
        f'<rect width="100%" height="100%" fill="{PAPER}"/>'
    )


def _section(
    site: str,
    age_months: float,
    weight_kg: float | None,
    lengths_mm: tuple[float, ...],
    angle_deg: float,
) -> tuple[str, float]:
    answers = [reach(site, age_months, weight_kg, length, angle_deg) for length in lengths_mm]
    top = 62 + (HUB_MM * sin(radians(angle_deg)) + 1.5) * PX_PER_MM
    deepest = _deepest_mm(answers)
    bottom = top + deepest * PX_PER_MM
    parts = [_heading(site, age_months, weight_kg, angle_deg)]
    parts.append(_layers(answers[0], top, bottom))
    parts.append(_ruler(top, deepest))
    parts.append(_needles(lengths_mm, answers, angle_deg, top))
    words, lines_end = _words(answers[0], lengths_mm, answers, top)
    parts.append(words)
    return "".join(parts), max(bottom, lines_end) + 26


def _deepest_mm(answers: list[ReachAnswer]) -> float:
    """Deep enough for every tip and for the spread of bone."""
    deepest = max(answer.depth_mm or 0 for answer in answers) + 3
    bone = answers[0].tissue.bone(0.0) if answers[0].tissue else None
    if bone is not None:
        deepest = max(deepest, bone[0] + 2 * bone[1] + 1)
    return min(deepest, DEEPEST_MM)


def _heading(site: str, age_months: float, weight_kg: float | None, angle_deg: float) -> str:
    weight = "weight not given" if weight_kg is None else f"{weight_kg:g} kg"
    return (
        f'<text x="{LEFT}" y="26" font-size="18" font-weight="600" fill="{INK}">'
        f"Reach at the {escape(site)}, {age_months:g} months</text>"
        f'<text x="{LEFT}" y="46" fill="{QUIET}">{weight} · needle at {angle_deg:g}° · '
        "resting tissue, to scale</text>"
    )


def _band(y: float, height: float, fill: str) -> str:
    return (
        f'<rect x="{LEFT}" y="{y:.1f}" width="{RIGHT - LEFT}" height="{max(height, 0):.1f}" '
        f'fill="{fill}"/>'
    )


def _layers(answer: ReachAnswer, top: float, bottom: float) -> str:
    skin = f'<path d="M{LEFT} {top:.1f}H{RIGHT}" stroke="{SKIN}" stroke-width="3"/>'
    tissue = answer.tissue
    bone = tissue.bone(0.0) if tissue else None
    if tissue is None or bone is None:
        empty = (
            f'<rect x="{LEFT}" y="{top:.1f}" width="{RIGHT - LEFT}" height="{bottom - top:.1f}" '
            f'fill="none" stroke="{RULE}" stroke-dasharray="4 4"/>'
        )
        return empty + skin
    muscle_y = top + tissue.s_mm * PX_PER_MM
    bone_y = top + bone[0] * PX_PER_MM
    return (
        _band(top, muscle_y - top, "url(#fat)")
        + _band(muscle_y, bone_y - muscle_y, "url(#muscle)")
        + _band(bone_y, bottom - bone_y, "url(#bone)")
        + _spread(muscle_y, tissue.s_sd_mm)
        + _spread(bone_y, bone[1])
        + skin
        + _layer_word("skin and fat", (top + muscle_y) / 2)
        + _layer_word("muscle", (muscle_y + bone_y) / 2)
        + _layer_word("bone depth", (bone_y + bone[1] * PX_PER_MM + bottom) / 2)
    )


def _spread(y: float, sd_mm: float) -> str:
    """The mean as a line, one SD to each side as a pale band, two SDs as ticks at both ends."""
    sd = sd_mm * PX_PER_MM
    ticks = "".join(
        f"M{LEFT} {y + n * sd:.1f}h9M{RIGHT} {y + n * sd:.1f}h-9" for n in (-2, -1, 1, 2)
    )
    return (
        f'<rect x="{LEFT}" y="{y - sd:.1f}" width="{RIGHT - LEFT}" height="{2 * sd:.1f}" '
        'fill="#ffffff" opacity=".45"/>'
        f'<path d="M{LEFT} {y:.1f}H{RIGHT}" stroke="{INK}" stroke-width="1.6"/>'
        f'<path d="{ticks}" stroke="{INK}" stroke-width="1"/>'
    )


def _layer_word(text: str, y: float) -> str:
    return (
        f'<text x="{LEFT + 14}" y="{y + 5:.1f}" fill="{INK}" stroke="{PAPER}" stroke-width="4" '
        f'paint-order="stroke">{text}</text>'
    )


def _ruler(top: float, deepest: float) -> str:
    marks, numbers = [], []
    for mm in range(int(deepest) + 1):
        y = top + mm * PX_PER_MM
        marks.append(f"M{LEFT - 4} {y:.1f}h-{8 if mm % 5 == 0 else 4}")
        if mm % 10 == 0:
            numbers.append(
                f'<text x="{LEFT - 15}" y="{y + 5:.1f}" text-anchor="end" fill="{QUIET}">'
                f"{mm}</text>"
            )
    axis = f"M{LEFT - 4} {top:.1f}V{top + deepest * PX_PER_MM:.1f}"
    return (
        f'<path d="{axis}{"".join(marks)}" stroke="{QUIET}" fill="none"/>'
        + "".join(numbers)
        + f'<text x="{LEFT - 15}" y="{top - 10:.1f}" text-anchor="end" fill="{QUIET}">mm</text>'
    )


def _needles(
    lengths_mm: tuple[float, ...], answers: list[ReachAnswer], angle_deg: float, top: float
) -> str:
    """Needles side by side, each entering the skin at its angle, hub above the skin."""
    lean_px = cos(radians(angle_deg)) * PX_PER_MM
    first = LEFT + 120  # right of the words in the layers
    # Parallel needles never cross, so they may stand close; the longest is the last.
    last = max(first + 70, RIGHT - 62 - max(lengths_mm) * lean_px)
    step = (last - first) / max(len(lengths_mm) - 1, 1)
    return "".join(
        _needle(length, answer, angle_deg, first + place * step, top)
        for place, (length, answer) in enumerate(zip(lengths_mm, answers, strict=True))
    )


def _needle(
    length: float, answer: ReachAnswer, angle_deg: float, entry_x: float, top: float
) -> str:
    # Drawn pointing along +x from the skin, then turned by its angle about the entry point.
    px = length * PX_PER_MM
    hub = HUB_MM * PX_PER_MM
    shape = (
        f'<g transform="translate({entry_x:.1f} {top:.1f}) rotate({angle_deg:g})">'
        f'<path d="M0 -2.6H{px - 9:.1f}L{px:.1f} 2.6H0Z" fill="#dfe3e8" stroke="{INK}" '
        'stroke-width="1.3" stroke-linejoin="round"/>'
        f'<path d="M0 -4L{-hub * 0.35:.1f} -8H{-hub:.1f}V8H{-hub * 0.35:.1f}L0 4Z" '
        f'fill="{INK}"/></g>'
    )
    tip_x = entry_x + px * cos(radians(angle_deg))
    tip_y = top + px * sin(radians(angle_deg))
    return (
        shape + f'<text x="{tip_x:.1f}" y="{tip_y + 17:.1f}" text-anchor="middle" fill="{INK}" '
        f'font-weight="600" stroke="{PAPER}" stroke-width="4" paint-order="stroke">'
        f"{length:g} mm</text>"
    )


def _words(
    answer: ReachAnswer,
    lengths_mm: tuple[float, ...],
    answers: list[ReachAnswer],
    top: float,
) -> tuple[str, float]:
    lines: list[tuple[str, str]] = []
    tissue = answer.tissue
    bone = tissue.bone(0.0) if tissue else None
    if tissue is not None and bone is not None:
        lines.append(("quiet", "of 100 children (range)"))
        for length, each in zip(lengths_mm, answers, strict=True):
            lines.append(("strong", f"{length:g} mm"))
            for words, share in (
                ("short", each.short),
                ("in muscle", each.in_muscle),
                ("bone depth", each.bone_depth),
            ):
                if share is not None:
                    lines.append(("plain", f"{words} {_short_count(share)}"))
        lines.append(("gap", f"skin to muscle {tissue.s_mm:.1f} ± {tissue.s_sd_mm:.1f} mm"))
        lines.append(("quiet", f"skin to bone {bone[0]:.1f} ± {bone[1]:.1f} mm"))
        lines.append(("quiet", "line: mean; pale band: 1 SD;"))
        lines.append(("quiet", "ticks: 1 and 2 SD"))
        lines.append(("quiet", _counted(answer)))
    else:
        lines.append(("strong", "No evidence"))
        lines += [("quiet", line) for line in _wrap(answer.why, 26)]
    return _text_block(lines, top + 4)


def _short_count(share: Share) -> str:
    """As people count it, in the signs a narrow column has room for."""
    told = of_100(share).replace(" of 100", "")
    return told.replace("under 1", "<1").replace("over 99", ">99")


def _counted(answer: ReachAnswer) -> str:
    count = "children not counted" if answer.children is None else f"{answer.children} children"
    return f"{count}, {answer.evidence}"


def _text_block(lines: list[tuple[str, str]], y: float) -> tuple[str, float]:
    out = []
    for style, text in lines:
        y += {"strong": 24.0, "gap": 30.0}.get(style, 18.0)
        fill = QUIET if style in ("quiet", "gap") else INK
        weight = ' font-weight="600"' if style == "strong" else ""
        size = ' font-size="13"' if style != "strong" else ""
        out.append(
            f'<text x="{RIGHT + 14}" y="{y - 14:.1f}" fill="{fill}"{weight}{size}>'
            f"{escape(text)}</text>"
        )
    return "".join(out), y


def _wrap(text: str, width: int) -> list[str]:
    lines, line = [], ""
    for word in text.split():
        if line and len(line) + 1 + len(word) > width:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    return [*lines, line]
