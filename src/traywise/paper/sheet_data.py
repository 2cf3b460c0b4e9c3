"""Turns a child, an answer and a tray into the words and drawings that ``sheet.typ`` sets."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

import msgspec

from traywise.calendar import age_on, format_age
from traywise.paper.body_map import Mark, body_map_svg, describe_marks
from traywise.paper.figures import figure_for
from traywise.paper.label_code import data_matrix_svg
from traywise.paper.labels import Label, labels_for
from traywise.paper.needle_drawing import describe_needle, hub_words, needle_svg, needle_width_mm
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


def child_facts(child: Child, on: date) -> list[list[str]]:
    """Name and value of what must be known at the chair; the unknown is said."""
    age = format_age(age_on(child.born, on)) if on >= child.born else "not born on this day"
    facts = [["id", plain(child.id)], ["born", child.born.isoformat()], ["age", age]]
    if child.gestation_weeks is not None:
        facts.append(["gestation", f"{child.gestation_weeks} weeks"])
    elif on >= child.born and age_on(child.born, on).months < 12:
        facts.append(["gestation", "not recorded"])
    weight = "not recorded"
    if child.weight_kg is not None:
        weighed = (
            f" on {child.weighed_on.isoformat()}" if child.weighed_on else ", day not recorded"
        )
        weight = f"{child.weight_kg:g} kg{weighed}"
    facts.append(["weight", weight])
    if child.avoid:
        facts.append(["do not use", ", ".join(child.avoid)])
    return facts


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
        "needle_words": _needle_words(place),
        "choices": ", ".join(needle_words(n) for n in place.needle_choices if n != place.needle),
        "missing": missing,
    }


def _needle_words(place: Place) -> str:
    if place.needle is not None:
        return f"{needle_words(place.needle)}, {hub_words(place.needle.gauge)}"
    return "no needle" if place.route in ("PO", "NAS") else "▲ needle not chosen"


def sentence(text: str) -> str:
    """Capital first, full stop last.

    >>> sentence("lot closest to expiry")
    'Lot closest to expiry.'
    """
    text = plain(text)
    if not text:
        return ""
    first = text.split(" ", 1)[0]
    # Abbreviations such as "mRNA" or "pH" keep their own capitals.
    if first.islower():
        text = text[0].upper() + text[1:]
    return text if text[-1] in ".?!:" else text + "."


_AHEAD = ("not yet", "deferred", "due", "overdue", "clinician decides")
_SETTLED = (
    ("complete", "Complete"),
    ("immune", "Immune"),
    ("aged out", "Aged out"),
    ("not recommended", "Not recommended"),
    ("contraindicated", "Contraindicated"),
)


def next_rows(answer: Answer, tray: Tray, notes: SourceNotes) -> list[dict[str, Any]]:
    """Groups with a dose ahead that this tray does not give, by due date."""
    given = {group for place in tray.tray for group in place.groups}
    ahead = [
        (group, f)
        for group, f in answer.groups.items()
        if f.status in _AHEAD and group not in given
    ]
    ahead.sort(key=lambda item: (item[1].due or date.max, item[0]))
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
        for group, f in ahead
    ]


def settled_lines(answer: Answer) -> list[str]:
    """One line a status for the groups that need nothing."""
    lines = []
    for status, word in _SETTLED:
        groups = [group for group, f in answer.groups.items() if f.status == status]
        if groups:
            lines.append(f"{word}: {', '.join(groups)}.")
    return lines


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
