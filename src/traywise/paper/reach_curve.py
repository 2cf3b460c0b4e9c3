"""Share of children with the tip in muscle against age, one line a needle, studies as points.

Lines differ by dash and carry their length at the end; points differ by shape, so that
the curve reads in grey. Ages without evidence are left empty and say so.
"""

from __future__ import annotations

from html import escape

from traywise.equipment.reach.answer import Share, middle_shares, reach
from traywise.equipment.reach.geometry import tip_depth_mm
from traywise.equipment.reach.probability import shares
from traywise.equipment.reach.studies import StudyRow, studies
from traywise.equipment.reach.tissue import tissue_of

CURVE_HEIGHT = 402.0
INK, QUIET, RULE = "#17202b", "#4c5765", "#d9d5c8"
X0, X1, Y0, Y1 = 58.0, 552.0, 50.0, 262.0
LAST_MONTH = 20.0
STEP_MONTHS = 0.25
BAND_STEP_MONTHS = 1.0  # a range costs a thousand times a middle figure

# paint, dash, width: in order of length
LINES = (
    ("#17202b", "", 2.6),
    ("#8a4b12", "9 4", 2.6),
    ("#3c4a75", "2.5 3.5", 3.0),
    ("#1d5b45", "12 3 2 3", 2.6),
)
MARKS = (
    ("Cook & Murtagh 2002", "M-5 0a5 5 0 1 0 10 0a5 5 0 1 0 -10 0Z"),
    ("DPT needle length, Indian infants", "M0 -6L5.6 4.4H-5.6Z"),
    ("Nakayama et al., Japan", "M0 -6L6 0L0 6L-6 0Z"),
    ("Newborn muscle and fat, Taiwan 1992", "M-4.6 -4.6H4.6V4.6H-4.6Z"),
    ("Kim H et al. 2017", "M0 6L5.6 -4.4H-5.6Z"),
)


def curve_group(
    site: str,
    age_months: float,
    length_mm: float,
    lengths_mm: tuple[float, ...],
    angle_deg: float,
) -> str:
    """SVG elements of the curve, 640 wide and CURVE_HEIGHT high, for ages 0 to 20 months.

    length_mm  the needle asked about: its range is drawn as a pale band
    """
    parts = [_axes(site, angle_deg, age_months)]
    ends: list[tuple[float, str, str]] = []
    end_x = X0
    for length in lengths_mm:
        style = LINES[lengths_mm.index(length) % len(LINES)]
        segments = _segments(site, length, angle_deg)
        if length == length_mm:
            parts.append(_range_bands(site, length, angle_deg))
        parts += [_line(segment, style) for segment in segments]
        parts.append(_points(site, length, angle_deg, style[0]))
        last_age, last_share = segments[-1][-1]
        end_x = _x(last_age)
        ends.append((_y(last_share), f"{length:g} mm", style[0]))
    parts.append(_end_labels(ends, end_x))
    parts.append(_key(site, lengths_mm))
    return "".join(parts)


def _x(age_months: float) -> float:
    return X0 + (X1 - X0) * age_months / LAST_MONTH


def _y(share: float) -> float:
    return Y1 - (Y1 - Y0) * share


def _segments(site: str, length: float, angle_deg: float) -> list[list[tuple[float, float]]]:
    """Runs of (age, share in muscle) with evidence; every site has at least one."""
    runs: list[list[tuple[float, float]]] = [[]]
    for step in range(round(LAST_MONTH / STEP_MONTHS) + 1):
        age = step * STEP_MONTHS
        found = middle_shares(site, age, None, length, angle_deg)
        if found is None:
            runs.append([])
        else:
            runs[-1].append((age, found.in_muscle))
    return [run for run in runs if run]


def _line(segment: list[tuple[float, float]], style: tuple[str, str, float]) -> str:
    paint, dash, width = style
    path = "L".join(f"{_x(age):.1f} {_y(share):.1f}" for age, share in segment)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="M{path}" fill="none" stroke="{paint}" stroke-width="{width}"{dashes} '
        'stroke-linejoin="round"/>'
    )


def _range_bands(site: str, length: float, angle_deg: float) -> str:
    """The range at whole months, each run of ages with evidence as one pale area."""
    runs: list[list[tuple[float, Share]]] = [[]]
    for step in range(round(LAST_MONTH / BAND_STEP_MONTHS) + 1):
        age = step * BAND_STEP_MONTHS
        share = reach(site, age, None, length, angle_deg, "rest").in_muscle
        if share is None:
            runs.append([])
        else:
            runs[-1].append((age, share))
    drawn = []
    for run in runs:
        upper = [f"{_x(age):.1f} {_y(share.high):.1f}" for age, share in run]
        lower = [f"{_x(age):.1f} {_y(share.low):.1f}" for age, share in reversed(run)]
        if len(run) > 1:
            drawn.append(f'<path d="M{"L".join(upper + lower)}Z" fill="#8b95a1" opacity=".28"/>')
    return "".join(drawn)


def _points(site: str, length: float, angle_deg: float, paint: str) -> str:
    drawn = []
    for row in _shown_rows(site):
        found = shares(tissue_of(row), tip_depth_mm(length, angle_deg))
        mark = dict(MARKS).get(row.study)
        if found is None or mark is None:
            continue
        y = _y(found.in_muscle)
        middle = _x((row.age_from_months + row.age_to_months) / 2)
        if row.age_to_months - row.age_from_months > 0:
            drawn.append(
                f'<path d="M{_x(row.age_from_months):.1f} {y:.1f}H{_x(row.age_to_months):.1f}" '
                f'stroke="{paint}" stroke-width="1" opacity=".75"/>'
            )
        drawn.append(
            f'<path transform="translate({middle:.1f} {y:.1f})" d="{mark}" fill="#ffffff" '
            f'stroke="{paint}" stroke-width="2"/>'
        )
    return "".join(drawn)


def _shown_rows(site: str) -> list[StudyRow]:
    """Groups with both depths; of the newborns the term ones, as the line takes them."""
    return [
        row
        for row in studies().values()
        if row.site == site and row.role in ("anchor", "beside") and "small" not in row.key
    ]


def _axes(site: str, angle_deg: float, age_months: float) -> str:
    grid, words = [], []
    for share in (0, 25, 50, 75, 100):
        y = _y(share / 100)
        grid.append(f"M{X0} {y:.1f}H{X1}")
        words.append(_word(X0 - 8, y + 5, str(share), "end"))
    for month in range(0, int(LAST_MONTH) + 1, 2):
        grid.append(f"M{_x(month):.1f} {Y1}v5")
        words.append(_word(_x(month), Y1 + 20, str(month), "middle"))
    child = ""
    if age_months <= LAST_MONTH:
        child = (
            f'<path d="M{_x(age_months):.1f} {Y0 - 6}V{Y1}" stroke="{INK}" stroke-width="1"/>'
            + _word(_x(age_months), Y0 - 10, "this age", "middle")
        )
    return (
        f'<text x="{X0 - 12}" y="18" font-size="16" font-weight="600" fill="{INK}">'
        f"In muscle, of 100 children, at the {escape(site)}, {angle_deg:g}°</text>"
        f'<path d="{"".join(grid)}" stroke="{RULE}" fill="none"/>'
        + "".join(words)
        + _word(
            (X0 + X1) / 2,
            Y1 + 38,
            "age in months, any weight; no line: nothing known",
            "middle",
        )
        + child
    )


def _word(x: float, y: float, text: str, anchor: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="13" fill="{QUIET}">'
        f"{escape(text)}</text>"
    )


def _end_labels(ends: list[tuple[float, str, str]], x: float) -> str:
    """Lengths beside the ends of their lines, pushed apart where lines meet."""
    ordered = sorted(ends)
    apart = 17.0
    drawn, lowest = [], Y0 - apart
    for place, (y, text, paint) in enumerate(ordered):
        # Labels still to come must find room above the axis.
        highest = Y1 - apart * (len(ordered) - 1 - place)
        lowest = max(min(y, highest), lowest + apart)
        drawn.append(
            f'<text x="{x + 8:.1f}" y="{lowest + 5:.1f}" font-weight="600" fill="{paint}">'
            f"{text}</text>"
        )
    return "".join(drawn)


def _key(site: str, lengths_mm: tuple[float, ...]) -> str:
    shown = {row.study for row in _shown_rows(site)}
    drawn = []
    x, y = X0 - 6, Y1 + 62
    for study, mark in MARKS:
        if study not in shown:
            continue
        if x + 26 + 7 * len(study) > 630:
            x, y = X0 - 6, y + 20
        drawn.append(
            f'<path transform="translate({x + 6:.1f} {y - 5:.1f})" d="{mark}" fill="#ffffff" '
            f'stroke="{INK}" stroke-width="1.6"/>' + _word(x + 18, y, study, "start")
        )
        x += 26 + 7 * len(study)
    note = "Grey band: range for the needle asked about. Points and thin lines: each study alone."
    return "".join(drawn) + _word(X0 - 6, y + 22, note, "start")
