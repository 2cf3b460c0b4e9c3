"""The sheet a parent takes home: what was given, what to expect, when to call, when to come back.

Comes in: child, doses given at this visit, the answer after them. Goes out: PDF in English or
Spanish. Lines come from the table of parent texts; this file only chooses and orders them.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from traywise.paper.facts import groups_ahead
from traywise.paper.parent_texts import (
    LANGUAGES,
    Language,
    ParentText,
    long_date,
    parent_texts,
)
from traywise.paper.typesetting import Paper, render_pdf, render_png
from traywise.paper.wording import plain
from traywise.record.child import Child
from traywise.schedule.answer import Answer
from traywise.tray.plan import Place, Tray

TEMPLATE = "parent.typ"


def parent_sheet_pdf(
    child: Child,
    given: Sequence[Place],
    after: Answer,
    on: date,
    *,
    language: Language = "en",
    phone: str = "",
    paper: Paper = "a4",
) -> bytes:
    """The take-home sheet.

    given     places of the tray that were really given
    after     the answer once these doses stand in the record: its dates are "come back"
    language  en or es; ValueError for any other
    phone     the clinic's number; empty: a line to write it on
    """
    data = parent_data(child, given, after, on, language=language, phone=phone)
    return render_pdf(TEMPLATE, data, paper)


def parent_sheet_png(
    child: Child,
    given: Sequence[Place],
    after: Answer,
    on: date,
    *,
    language: Language = "en",
    phone: str = "",
    paper: Paper = "a4",
    pixels_per_inch: int = 110,
) -> list[bytes]:
    """The same pages as pictures."""
    data = parent_data(child, given, after, on, language=language, phone=phone)
    return render_png(TEMPLATE, data, paper, pixels_per_inch)


def parent_data(
    child: Child,
    given: Sequence[Place],
    after: Answer,
    on: date,
    *,
    language: Language = "en",
    phone: str = "",
) -> dict[str, Any]:
    """What ``parent.typ`` prints."""
    if language not in LANGUAGES:
        raise ValueError(f'"{language}" has no parent texts. Choose one of {", ".join(LANGUAGES)}.')
    groups = {group for place in given for group in place.groups}
    routes = {place.route for place in given}
    lines: dict[str, list[str]] = {"expect": [], "comfort": [], "call": [], "emergency": []}
    for text in parent_texts().values():
        if given and text.section in lines and text.stands_for(groups, routes, child.born, on):
            lines[text.section].append(text.words(language))
    return {
        "title": f"{_word('title', language)}, {on.isoformat()}",
        "language": language,
        "words": {
            text.key: text.words(language)
            for text in parent_texts().values()
            if text.section == "word"
        },
        "name": plain(child.name or child.id),
        "born": long_date(child.born, language),
        "when": long_date(on, language),
        "edition": after.edition,
        "given": [_given(place, language) for place in given],
        "lines": lines,
        "back": come_back(after, on, language),
        "phone": plain(phone),
    }


def _word(key: str, language: Language) -> str:
    return parent_texts()[key].words(language)


def _given(place: Place, language: Language) -> list[str]:
    protects = ", ".join(_group_words(group, language) for group in place.groups)
    site: ParentText | None = parent_texts().get(f"site-{place.site or place.route}")
    where = site.words(language) if site else plain(place.site or place.route)
    lot = plain(place.lot) if place.lot else _word("unknown", language)
    return [plain(place.name), protects, where, lot]


def _group_words(group: str, language: Language) -> str:
    known = parent_texts().get(f"group-{group}")
    return known.words(language) if known else group


def come_back(after: Answer, on: date, language: Language) -> list[list[str]]:
    """Date and what for, soonest first; what is due already comes first, without a date."""
    by_day: dict[date | None, list[str]] = {}
    for group, forecast in groups_ahead(after, Tray()):
        if forecast.status == "clinician decides" or forecast.due is None:
            continue
        due = max(forecast.due, forecast.until or forecast.due)
        by_day.setdefault(due if due > on else None, []).append(_group_words(group, language))
    days = sorted(by_day, key=lambda value: value or date.min)
    return [
        [
            long_date(value, language) if value else _word("due-now", language),
            ", ".join(dict.fromkeys(by_day[value])),
        ]
        for value in days
    ]
