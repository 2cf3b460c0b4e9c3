"""Turns a child, an answer and a tray into the words and drawings that ``sheet.typ`` sets."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

import msgspec

from traywise.calendar import age_on
from traywise.paper.body_map import Mark, body_map_svg, describe_marks
from traywise.paper.facts import (
    child_facts,
    groups_ahead,
    needle_on_place,
    sentence,
    settled_lines,
)
from traywise.paper.figures import figure_for
from traywise.paper.label_code import data_matrix_svg
from traywise.paper.labels import Label, labels_for
from traywise.paper.needle_drawing import describe_needle, needle_svg, needle_width_mm
from traywise.paper.typesetting import BODY_FONT
from traywise.paper.wording import (
    ROUTES,
    day,
    day_with_weekday,
    dose_words,
    group_status,
    needle_words,
    not_today_status,
    plain,
    supply_words,
    tray_status,
    tray_status_detail,
    volume_words,
)
from traywise.record.child import Child
from traywise.rulebook.tables import describe_source
from traywise.schedule.answer import Answer
from traywise.tray.plan import Place, Tray


class TraySheet(msgspec.Struct, frozen=True, kw_only=True):
    """What one printed tray is made of. ``gtins``: lot -> GTIN where the shelf knows it."""

    child: Child
    answer: Answer
    tray: Tray
    on: date
    gtins: dict[str, str] = {}


class SourceNotes:
    """Numbers the sources of a sheet in the order in which they are first named."""

    def __init__(self) -> None:
        self.texts: list[str] = []

    def numbers(self, sources: Iterable[str]) -> list[int]:
        """The note numbers of some sources; unknown keys stay as they are written."""
        found = []
        for source in sources:
            if not source:
                continue
            text = plain(describe_source(source))
            if text not in self.texts:
                self.texts.append(text)
            found.append(self.texts.index(text) + 1)
        return sorted(set(found))


def sheet_data(sheet: TraySheet, number: int) -> dict[str, Any]:
    """Everything ``sheet.typ`` prints for one child."""
    child, tray, on = sheet.child, sheet.tray, sheet.on
    notes = SourceNotes()
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
        "facts": child_facts(child, on),
        "state": {
            "shape": status.shape,
            "word": status.word,
            "detail": tray_status_detail(tray),
            "open": status.shape == "▲",
        },
        "record_notes": [plain(f"{f.text} ({f.at})") for f in _faults(sheet.answer)],
        "map_svg": body_map_svg(figure, marks, avoid=child.avoid, font_family=BODY_FONT),
        "map_words": "Body map. " + describe_marks(marks),
        "ready": [[supply.count, plain(supply_words(supply))] for supply in tray.supplies],
        "questions": [
            {
                "text": plain(q.text),
                "groups": ", ".join(q.groups),
                "answers": list(q.answers),
                "private": q.private,
                "notes": notes.numbers([q.source]),
            }
            for q in tray.questions
        ],
        "cautions": [plain(text) for text in tray.cautions],
        "places": [_place(place, notes) for place in tray.tray],
        "not_today": [
            {
                "shape": not_today_status(item).shape,
                "word": not_today_status(item).word,
                "group": item.group,
                "why": sentence(item.why),
                "serve": plain(", ".join(item.would_serve)),
                "notes": notes.numbers([item.source]),
            }
            for item in tray.not_today
        ],
        "next": next_rows(sheet.answer, tray, notes),
        "settled": settled_lines(sheet.answer),
        "labels": [_label(label) for label in labels_for(child, tray.tray, sheet.gtins)],
        "sources": notes.texts,
    }


def _faults(answer: Answer) -> tuple[Any, ...]:
    return (*answer.errors, *answer.warnings)


def _place(place: Place, notes: SourceNotes) -> dict[str, Any]:
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
        "technique": sentence(place.technique),
        "syringe": plain(place.syringe),
        "steps": [sentence(step) for step in place.steps],
        "cautions": [sentence(text) for text in place.cautions],
        "why": [sentence(text) for text in place.why],
        "notes": notes.numbers(place.source),
        "needle_svg": needle_svg(
            place.needle, place.syringe, route=place.route, missing=missing, font_family=BODY_FONT
        ),
        "needle_width_mm": needle_width_mm(place.needle),
        "needle_alt": describe_needle(
            place.needle, place.syringe, route=place.route, missing=missing
        ),
        "needle_words": needle_on_place(place, hub=False),
        "choices": ", ".join(needle_words(n) for n in place.needle_choices if n != place.needle),
        "missing": missing,
    }


def next_rows(answer: Answer, tray: Tray, notes: SourceNotes) -> list[dict[str, Any]]:
    """Groups with a dose ahead that this tray does not give, by due date."""
    return [
        {
            "group": group,
            "dose": str(f.next_dose) if f.next_dose is not None else "–",
            "earliest": day(f.earliest),
            "due": day(f.due),
            "shape": group_status(f).shape,
            "word": group_status(f).word + (f" until {f.until.isoformat()}" if f.until else ""),
            "notes": notes.numbers([f.source]),
        }
        for group, f in groups_ahead(answer, tray)
    ]


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
