"""The history as one picture: a line for each group, marks for doses, windows for the next.

Age runs to the right on a square-root scale, so that the crowded first two years have
room. A mark says its verdict by shape; the table below the picture says it in words.
"""

from __future__ import annotations

from datetime import date
from html import escape
from math import sqrt
from typing import NamedTuple

from traywise.calendar import Span, add
from traywise.schedule.answer import Answer, GroupForecast

WIDTH, LEFT, RIGHT, TOP, ROW = 940, 92, 24, 34, 26
INK, QUIET, LINE, STOP, GO, WAIT = "#17202b", "#4c5765", "#d9d5c8", "#8c1d2f", "#1d5b45", "#3c4a75"
# Where the ruler is marked: a drawing choice, no rule.
TICKS = (
    ("birth", 0), ("2 m", 2), ("4 m", 4), ("6 m", 6), ("12 m", 12), ("18 m", 18), ("2 y", 24),
    ("4 y", 48), ("6 y", 72), ("9 y", 108), ("11 y", 132), ("13 y", 156), ("16 y", 192),
    ("18 y", 216),
)  # fmt: skip
LEAST_TICK_GAP = 34


class Scale(NamedTuple):
    """Days since birth to the picture's x."""

    born: date
    days: int

    def x(self, day: date) -> float:
        share = sqrt(max(0, min((day - self.born).days, self.days)) / self.days)
        return round(LEFT + share * (WIDTH - LEFT - RIGHT), 1)


def timeline_svg(born: date, answer: Answer) -> str:
    """The picture for one child; groups with neither dose nor next dose are left out."""
    shown = [
        group
        for group, forecast in answer.groups.items()
        if _has_doses(answer, group) or forecast.due or forecast.earliest
    ]
    scale = Scale(born, _last_day(born, answer, shown))
    height = TOP + ROW * len(shown) + 24
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" '
        f'height="{height}" role="img" font-family="inherit"><title>Timeline of all groups</title>'
        "<desc>The table of the history and the table of what comes next say the same in "
        "words.</desc>",
        *_ruler(scale, height),
    ]
    for number, group in enumerate(shown):
        y = TOP + ROW * number + ROW / 2
        parts.append(
            f'<text x="{LEFT - 12}" y="{y + 5}" font-size="15" text-anchor="end" '
            f'fill="{INK}">{escape(group)}</text>'
            f'<line x1="{LEFT}" y1="{y}" x2="{WIDTH - RIGHT}" y2="{y}" stroke="{LINE}"/>'
        )
        parts.append(_window(scale, answer.groups[group], y))
        parts += _doses(scale, answer, group, y)
    parts.append(_today(scale, answer.assess_on, height))
    return "".join(parts) + "</svg>"


def _has_doses(answer: Answer, group: str) -> bool:
    return any(group in dose.groups for dose in answer.doses)


def _last_day(born: date, answer: Answer, shown: list[str]) -> int:
    """The picture ends a little after today and the dates that matter soon."""
    ends = [answer.assess_on] + [dose.on for dose in answer.doses]
    ends += [due for group in shown if (due := answer.groups[group].due)]
    horizon = add(answer.assess_on, Span(months=18))
    ends = [min(end, horizon) for end in ends]
    return max(60, int(((max(ends) - born).days) * 1.06) + 14)


def _ruler(scale: Scale, height: int) -> list[str]:
    parts: list[str] = []
    last = float(-LEAST_TICK_GAP)
    for words, months in TICKS:
        day = add(scale.born, Span(months=months))
        x = scale.x(day)
        if (day - scale.born).days > scale.days or x - last < LEAST_TICK_GAP:
            continue
        last = x
        parts.append(
            f'<line x1="{x}" y1="{TOP - 8}" x2="{x}" y2="{height - 20}" stroke="#ebe8dd"/>'
            f'<text x="{x}" y="{TOP - 14}" font-size="13" text-anchor="middle" '
            f'fill="{QUIET}">{words}</text>'
        )
    return parts


def _window(scale: Scale, forecast: GroupForecast, y: float) -> str:
    """From the earliest day to overdue, with a diamond on the day it is due."""
    if forecast.due is None or (forecast.due - scale.born).days > scale.days:
        return ""
    start = scale.x(forecast.earliest or forecast.due)
    end = scale.x(forecast.overdue or forecast.latest or forecast.due)
    x = scale.x(forecast.due)
    late = forecast.status == "overdue"
    colour = STOP if late else WAIT
    words = f"dose {forecast.next_dose} {'overdue' if late else 'due'} {forecast.due}"
    return (
        f'<g><title>{escape(words)}</title><rect x="{start}" y="{y - 4}" '
        f'width="{max(2.0, round(end - start, 1))}" height="8" fill="{colour}" opacity=".22"/>'
        f'<path d="M{x} {y - 8} l8 8 l-8 8 l-8 -8 z" fill="#fff" stroke="{colour}" '
        'stroke-width="2"/></g>'
    )


def _doses(scale: Scale, answer: Answer, group: str, y: float) -> list[str]:
    parts = []
    for dose in answer.doses:
        verdict = dose.groups.get(group)
        if verdict is None:
            continue
        x = scale.x(dose.on)
        words = escape(
            f"{dose.on}: {verdict.status}" + (f", {verdict.reason}" if verdict.reason else "")
        )
        if verdict.status == "valid":
            mark = f'<circle cx="{x}" cy="{y}" r="6.5" fill="{GO}"/>'
        elif verdict.status == "extra":
            mark = (
                f'<circle cx="{x}" cy="{y}" r="5.5" fill="#fff" stroke="{QUIET}" stroke-width="2"/>'
            )
        else:
            mark = (
                f'<path d="M{x - 6} {y - 6} l12 12 M{x + 6} {y - 6} l-12 12" stroke="{STOP}" '
                'stroke-width="3.4" stroke-linecap="round"/>'
            )
        parts.append(f"<g><title>{words}</title>{mark}</g>")
    return parts


def _today(scale: Scale, day: date, height: int) -> str:
    x = scale.x(day)
    return (
        f'<line x1="{x}" y1="{TOP - 8}" x2="{x}" y2="{height - 20}" stroke="#8a4b12" '
        f'stroke-width="2" stroke-dasharray="5 4"/><text x="{x}" y="{height - 4}" font-size="13" '
        f'font-weight="600" text-anchor="middle" fill="#8a4b12">{day}</text>'
    )
