"""Turns a child, an answer and a tray into the words and drawings that ``sheet.typ`` sets."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

import msgspec

from traywise.calendar import age_on
from traywise.paper.body_map import Mark, body_map_svg, describe_marks
from traywise.paper.facts import (
    child_facts,
    earliest_worth_telling,
    edition_words,
    groups_ahead,
    marked_steps,
    needle_alternatives,
    needle_on_place,
    next_vaccine,
    not_counted,
    reach_sentence,
    record_notes,
    sentence,
    settled_lines,
    short_why,
)
from traywise.paper.figures import figure_for
from traywise.paper.label_code import data_matrix_svg
from traywise.paper.labels import Label, labels_for
from traywise.paper.needle_drawing import describe_needle, needle_svg, needle_width_mm
from traywise.paper.questions import decides, tick_boxes
from traywise.paper.steps import (
    INJECTED,
    own_techniques,
    shared_reasons,
    split_sources,
    split_steps,
    split_why,
)
from traywise.paper.typesetting import BODY_FONT
from traywise.paper.wording import (
    ROUTES,
    day,
    day_with_weekday,
    dose_words,
    group_status,
    not_today_status,
    plain,
    supply_words,
    tray_status,
    tray_status_detail,
    volume_words,
)
from traywise.record.child import Child
from traywise.rulebook.tables import citations, describe_sources
from traywise.schedule.answer import Answer, GroupForecast
from traywise.tray.plan import NotToday, OpenQuestion, Place, Tray

AT_HAND = 3  # as many questions stand beside the body map; more stand on a page of their own
WHY_ROOM = 210  # letters in two lines of a card


class TraySheet(msgspec.Struct, frozen=True, kw_only=True):
    """What one printed tray is made of. ``gtins``: lot -> GTIN where the shelf knows it."""

    child: Child
    answer: Answer
    tray: Tray
    on: date
    gtins: dict[str, str] = {}


class SourceNotes:
    """Numbers the publications of a sheet in the order in which they are first named."""

    def __init__(self) -> None:
        self._publications: list[str] = []
        self._sources: list[str] = []

    def numbers(self, sources: Iterable[str]) -> list[int]:
        """The numbers of the publications that some sources cite."""
        found = set()
        for source in sources:
            self._sources.append(source)
            for publication, _ in citations(source):
                if publication not in self._publications:
                    self._publications.append(publication)
                found.add(self._publications.index(publication) + 1)
        return sorted(found)

    def texts(self) -> list[str]:
        """A line a publication, in the order of their numbers."""
        return [plain(text) for text in describe_sources(self._sources)]


def sheet_data(sheet: TraySheet, number: int) -> dict[str, Any]:
    """Everything ``sheet.typ`` prints for one child."""
    child, tray, on = sheet.child, sheet.tray, sheet.on
    notes = SourceNotes()
    at_hand = len(tray.questions) <= AT_HAND
    # Numbered as they are read: many questions stand after the places.
    questions = _questions(tray.questions, notes) if at_hand else []
    places = _places(tray.tray, notes)
    not_today = [_not_today(item, notes) for item in tray.not_today]
    questions = questions or _questions(tray.questions, notes)
    status = tray_status(tray)
    marks = [Mark(p.n, p.site, p.position, p.route) for p in tray.tray]
    figure = figure_for(age_on(child.born, max(on, child.born)))
    return {
        "number": number,
        "name": plain(child.name) if child.name else "name not recorded",
        "id": plain(child.id),
        "when": day_with_weekday(on)
        + (f", {plain(child.appointment)}" if child.appointment else ""),
        "edition": f"schedule {sheet.answer.edition}",
        "needles": f" · needles {plain(tray.needle_policy)}" if tray.needle_policy else "",
        "edition_words": edition_words(sheet.answer.edition),
        "facts": child_facts(child, on),
        "state": {
            "shape": status.shape,
            "word": status.word,
            "detail": tray_status_detail(tray),
            "open": status.shape == "▲",
        },
        "record_notes": [
            [about.capitalize(), plain(f.text + (f" ({f.at})" if about == "record" else ""))]
            for about, f in record_notes(sheet.answer)
        ]
        + [["History", plain(text)] for text in not_counted(sheet.answer)],
        "map_svg": body_map_svg(figure, marks, avoid=child.avoid, font_family=BODY_FONT),
        "map_words": "Body map. " + describe_marks(marks),
        "ready": [[supply.count, plain(supply_words(supply))] for supply in tray.supplies],
        "questions": questions,
        "questions_at_hand": at_hand,
        "cautions": [plain(text) for text in tray.cautions],
        **places,
        "not_today": not_today,
        "reach": [
            [plain(reach_sentence(note)), notes.numbers(note.source)]
            for note in tray.reach
            if note.differs
        ],
        "next": next_rows(sheet.answer, tray, notes),
        "settled": settled_lines(sheet.answer, tray),
        "labels": [_label(label) for label in labels_for(child, tray.tray, sheet.gtins)],
        "sources": notes.texts(),
    }


def _questions(questions: Sequence[OpenQuestion], notes: SourceNotes) -> list[dict[str, Any]]:
    return [
        {
            "text": plain(question.text),
            "decides": decides(question, questions),
            "answers": tick_boxes(question),
            "private": question.private,
            "notes": notes.numbers([question.source]),
        }
        for question in questions
    ]


def _not_today(item: NotToday, notes: SourceNotes) -> dict[str, Any]:
    status = not_today_status(item)
    return {
        "shape": status.shape,
        "word": status.word,
        "group": item.group,
        "why": sentence(item.why),
        "serve": plain(", ".join(item.would_serve)),
        "notes": notes.numbers([item.source]),
    }


def _places(places: Sequence[Place], notes: SourceNotes) -> dict[str, Any]:
    """What holds for several places, once, and each place with what is its own."""
    steps, own_steps = split_steps(places)
    reasons, own_reasons = split_why(places)
    sources, own_sources = split_sources(places)
    techniques = own_techniques(places)
    return {
        "shared": [
            {"title": title, "texts": [sentence(text) for text in texts]} for title, texts in steps
        ],
        "shared_why": plain(shared_reasons(reasons)),
        "shared_notes": notes.numbers(source for shared in sources for source in shared.texts),
        "places": [
            {
                **_place(place),
                "technique": sentence(techniques[place.n]),
                "steps": marked_steps(place, own_steps[place.n]),
                "why": short_why(own_reasons[place.n], WHY_ROOM),
                "notes": notes.numbers(own_sources[place.n]),
            }
            for place in places
        ],
    }


def _place(place: Place) -> dict[str, Any]:
    facts = [["dose", volume_words(place.volume_ml)], ["lot", plain(place.lot or "not chosen")]]
    facts.append(["expires", day(place.expires) if place.expires else "not recorded"])
    if place.unit:
        facts.append(["from", plain(place.unit)])
    if place.funding:
        facts.append(["funding", plain(place.funding)])
    missing = plain(place.needle_missing or "")
    return {
        "n": place.n,
        "name": plain(place.name),
        "doses": dose_words(place.dose_numbers, place.groups),
        "where": plain(place.site_text[:1].upper() + place.site_text[1:]),
        "route_words": ROUTES.get(place.route, place.route) if place.site else "",
        "angle": f"at {place.angle_deg}°" if place.angle_deg is not None else "",
        "facts": facts,
        "syringe": plain(place.syringe),
        "needle_svg": needle_svg(
            place.needle, place.syringe, route=place.route, missing=missing, font_family=BODY_FONT
        ),
        "needleless": place.needle is None and place.route not in INJECTED,
        "needle_width_mm": needle_width_mm(place.needle),
        "needle_alt": describe_needle(
            place.needle, place.syringe, route=place.route, missing=missing
        ),
        "needle_words": needle_on_place(place, hub=False),
        "choices": needle_alternatives(place),
        "missing": missing,
    }


def next_rows(answer: Answer, tray: Tray, notes: SourceNotes) -> list[dict[str, Any]]:
    """Doses ahead once this tray is given, by due date; those of one date together."""
    rows: dict[tuple[str, ...], list[tuple[str, GroupForecast]]] = {}
    for group, f in groups_ahead(answer, tray):
        until = f" until {f.until.isoformat()}" if f.until else ""
        told = earliest_worth_telling(f, answer.assess_on)
        status = group_status(f)
        key = (day(f.due), day(f.earliest) if told else "", status.shape, status.word + until)
        rows.setdefault(key, []).append((group, f))
    return [
        {
            "doses": ", ".join(_next_dose(group, f) for group, f in found),
            "earliest": earliest,
            "due": due,
            "shape": shape,
            "word": word,
            "notes": notes.numbers([f.source for _, f in found]),
        }
        for (due, earliest, shape, word), found in rows.items()
    ]


def _next_dose(group: str, forecast: GroupForecast) -> str:
    number = f" {forecast.next_dose}" if forecast.next_dose is not None else ""
    return next_vaccine(group, forecast) + number


def _label(label: Label) -> Mapping[str, Any]:
    words: dict[str, Any] = msgspec.to_builtins(label)
    words["site_upper"] = label.site.upper()
    words["code_svg"] = data_matrix_svg(label.code)
    words["use_by_note"] = (
        f"use {label.use_by}"
        if label.use_by != "see leaflet"
        else ("use by: see the product's leaflet")
    )
    return words
