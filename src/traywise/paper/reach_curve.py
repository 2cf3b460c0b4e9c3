"""Share of children with the tip in muscle against age, one line a needle, studies as points.

Lines differ by dash and carry their length at the end; points differ by shape, so that
the curve reads in grey. Ages without evidence are left empty and say so.
"""

from __future__ import annotations

from html import escape

from traywise.equipment.reach.answer import ReachAnswer, reach
from traywise.equipment.reach.geometry import tip_depth_mm
from traywise.equipment.reach.probability import shares
from traywise.equipment.reach.studies import StudyRow, studies
from traywise.equipment.reach.tissue import tissue_of

CURVE_HEIGHT = 402.0
INK, QUIET, RULE = "#17202b", "#4c5765", "#d9d5c8"
X0, X1, Y0, Y1 = 58.0, 552.0, 50.0, 262.0
LAST_MONTH = 20.0
STEP_MONTHS = 0.25

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
    for length in lengths_mm:
        style = LINES[lengths_mm.index(length) % len(LINES)]
        segments = _segments(site, length, angle_deg)
        if length == length_mm:
            parts += [_range_band(segment) for segment in segments]
        parts += [_line(segment, style) for segment in segments]
        parts.append(_points(site, length, angle_deg, style[0]))
        if segments and segments[-1][-1][1].in_muscle is not None:
            last = segments[-1][-1][1].in_muscle
            ends.append((_y(last.mid), f"{length:g} mm", style[0]))
    end_x = max((_x(age) for length in lengths_mm[:1] for age in _last_ages(site)), default=X1)
    parts.append(_end_labels(ends, end_x))
    parts.append(_key(site, lengths_mm))
    return "".join(parts)


def _x(age_months: float) -> float:
    return X0 + (X1 - X0) * age_months / LAST_MONTH


def _y(share: float) -> float:
    return Y1 - (Y1 - Y0) * share


def _last_ages(site: str) -> list[float]:
    ages = [age for segment in _segments(site, 16.0, 90.0) for age, _ in segment]
    return [max(ages)] if ages else []


def _segments(site: str, length: float, angle_deg: float) -> list[list[tuple[float, ReachAnswer]]]:
    """Runs of ages with evidence, each age with its answer."""
    runs: list[list[tuple[float, ReachAnswer]]] = [[]]
    for step in range(round(LAST_MONTH / STEP_MONTHS) + 1):
        age = step * STEP_MONTHS
        answer = reach(site, age, None, length, angle_deg, "rest")
        if answer.in_muscle is None:
            runs.append([])
        else:
            runs[-1].append((age, answer))
    return [run for run in runs if run]


def _line(segment: list[tuple[float, ReachAnswer]], style: tuple[str, str, float]) -> str:
    paint, dash, width = style
    path = "L".join(
        f"{_x(age):.1f} {_y(answer.in_muscle.mid):.1f}"
        for age, answer in segment
        if answer.in_muscle
    )
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="M{path}" fill="none" stroke="{paint}" stroke-width="{width}"{dashes} '
        'stroke-linejoin="round"/>'
    )


def _range_band(segment: list[tuple[float, ReachAnswer]]) -> str:
    shares_by_age = [(age, answer.in_muscle) for age, answer in segment if answer.in_muscle]
    upper = [f"{_x(age):.1f} {_y(share.high):.1f}" for age, share in shares_by_age]
    lower = [f"{_x(age):.1f} {_y(share.low):.1f}" for age, share in reversed(shares_by_age)]
    return f'<path d="M{"L".join(upper + lower)}Z" fill="#8b95a1" opacity=".28"/>'


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
            (X0 + X1) / 2, Y1 + 38, "age in months; nothing measured beyond the lines", "middle"
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
    drawn, lowest = [], -100.0
    for y, text, paint in sorted(ends):
        lowest = max(y, lowest + 17)
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
