"""What sheet, label and terminal all tell of a child, a place and an answer, in words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from traywise.calendar import age_on, format_age
from traywise.errors import Fault, RulebookError
from traywise.paper.hub_colours import hub_words
from traywise.paper.wording import needle_words, plain
from traywise.record.child import Child
from traywise.rulebook.codes import cvx_codes
from traywise.rulebook.edition import load_edition
from traywise.schedule.answer import Answer, GroupForecast
from traywise.tray.plan import Place, ReachNote, Tray

_AHEAD = ("not yet", "deferred", "due", "overdue", "clinician decides")
_SETTLED = (
    ("complete", "Complete"),
    ("immune", "Immune"),
    ("aged out", "Aged out"),
    ("not recommended", "Not recommended"),
    ("contraindicated", "Contraindicated"),
)


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


def needle_on_place(place: Place, *, hub: bool = True) -> str:
    """The needle of a place in words, with its hub colour; or that there is none."""
    if place.needle is None:
        return "no needle" if place.route in ("PO", "NAS") else "▲ needle not chosen"
    words = needle_words(place.needle)
    return f"{words}, {hub_words(place.needle.gauge)}" if hub else words


def keeping_words(minutes: int) -> str:
    """How long a mixed dose keeps.

    >>> keeping_words(30), keeping_words(1440)
    ('within 30 min of mixing', 'within 24 h of mixing')
    """
    whole_hours = minutes >= 120 and minutes % 60 == 0
    return f"within {f'{minutes // 60} h' if whole_hours else f'{minutes} min'} of mixing"


def groups_ahead(answer: Answer, tray: Tray) -> list[tuple[str, GroupForecast]]:
    """Groups with a dose ahead once the tray is given, by due date."""
    groups = tray.afterwards or answer.groups
    ahead = [(g, f) for g, f in groups.items() if f.status in _AHEAD]
    return sorted(ahead, key=lambda item: (item[1].due or date.max, item[0]))


def next_vaccine(group: str, forecast: GroupForecast) -> str:
    """The group, with the vaccine where only one serves and the group does not name it.

    >>> next_vaccine("DTaP", GroupForecast(status="due", products=("Tdap",)))
    'DTaP (Tdap)'
    >>> next_vaccine("PCV", GroupForecast(status="due", products=("PCV20",)))
    'PCV'
    """
    if len(forecast.products) != 1 or group in forecast.products[0]:
        return group
    return f"{group} ({forecast.products[0]})"


def earliest_worth_telling(forecast: GroupForecast, on: date) -> bool:
    """Whether a dose may come before its due day in the visits that are planned now."""
    if forecast.earliest is None or forecast.due is None or forecast.earliest == forecast.due:
        return False
    return (forecast.due - on).days < 2 * 366


def settled_lines(answer: Answer, tray: Tray) -> list[str]:
    """One line a status for the groups that need nothing once the tray is given."""
    lines = []
    groups_now = tray.afterwards or answer.groups
    for status, word in _SETTLED:
        groups = [group for group, f in groups_now.items() if f.status == status]
        if groups:
            lines.append(f"{word}: {', '.join(groups)}.")
    return lines


def edition_words(name: str) -> str:
    """Title, publisher and date of an edition with its overlays; its bare name if it is unknown.

    >>> edition_words("no-such-edition")
    'no-such-edition'
    """
    try:
        edition = load_edition(name)
    except RulebookError:
        return plain(name)
    laid_on = f", changed by {', '.join(edition.overlays)}" if edition.overlays else ""
    head = edition.head
    return f"{head.title}; {head.publisher}; published {head.published} ({head.key}{laid_on})"


def record_notes(answer: Answer) -> list[tuple[str, Fault]]:
    """Errors and warnings of an answer, none twice, each with what it is about."""
    faults = dict.fromkeys((*answer.errors, *answer.warnings))
    return [("edition" if fault.at == "edition" else "record", fault) for fault in faults]


_CLOSED = ("complete", "immune", "aged out", "not recommended")


def not_counted(answer: Answer) -> list[str]:
    """Doses of the record that did not count for a group still open, each with its reason."""
    found = []
    for dose in answer.doses:
        by_reason: dict[str, list[str]] = {}
        for group, verdict in dose.groups.items():
            if verdict.status == "not valid" and answer.groups[group].status not in _CLOSED:
                by_reason.setdefault(verdict.reason or "", []).append(group)
        name = cvx_codes()[dose.cvx].name if dose.cvx in cvx_codes() else f"CVX {dose.cvx}"
        found += [
            f"{name} of {dose.on} does not count for {', '.join(groups)}: {reason}."
            for reason, groups in by_reason.items()
        ]
    return found


def needle_alternatives(place: Place) -> str:
    """Other needles the table allows, told only where the first choice is not the one that lies
    ready: else it is no help at the chair. All of them are in the JSON.
    """
    choices = place.needle_choices
    if not choices or place.needle_missing or place.needle == choices[0]:
        return ""
    return ", ".join(needle_words(needle) for needle in choices if needle != place.needle)


def short_why(reasons: Sequence[str], room: int) -> str:
    """Reasons as one text of at most ``room`` letters; whole reasons, the first always.

    >>> short_why(["due since May", "lot closest to expiry", "sorest last"], 40)
    'due since May; lot closest to expiry …'
    """
    kept = ""
    for reason in map(plain, reasons):
        longer = f"{kept}; {reason}" if kept else reason
        if kept and len(longer) > room - 2:
            return f"{kept} …"
        kept = longer
    return kept


def marked_steps(place: Place, own: Sequence[str]) -> list[tuple[str, str]]:
    """The place's own steps and cautions with their marks: – a step, ▲ what must not be missed.

    A step that says how long a mixed dose keeps is marked itself, not told a second time.
    """
    timed = [step for step in own if place.use_within_minutes and "use within" in step.lower()]
    found = [("▲" if step in timed else "–", sentence(step)) for step in own]
    if place.use_within_minutes is not None and not timed:
        found.append(("▲", f"use {keeping_words(place.use_within_minutes)}"))
    return [*found, *(("▲", sentence(text)) for text in place.cautions)]


_MEASURES = re.compile(r"(?<=\d) (?=(?:mm|mL|kg|G|inch|in)\b)|(?<=G) × (?=\d)|(?<=mm) (?=\(\d)")


def keep_measures(text: str) -> str:
    """The text with number and unit, gauge and length held on one line by no-break spaces.

    >>> keep_measures("the 25 G × 25 mm (1 in) needle").count("\u00a0")
    6
    """
    return _MEASURES.sub(lambda found: found[0].replace(" ", "\u00a0"), text)


def sentence(text: str) -> str:
    """Capital first, full stop last, measures kept together.

    >>> sentence("lot closest to expiry")
    'Lot closest to expiry.'
    """
    text = keep_measures(plain(text))
    if not text:
        return ""
    first = text.split(" ", 1)[0]
    # Abbreviations such as "mRNA" or "pH" keep their own capitals.
    if first.islower():
        text = text[0].upper() + text[1:]
    return text if text[-1] in ".?!:" else text + "."


def reach_sentence(note: ReachNote, *, brief: bool = False) -> str:
    """The second opinion on one length and the places it is about; in full with the trials."""
    numbers = ", ".join(str(number) for number in note.places)
    places = f"Place{'' if len(note.places) == 1 else 's'} {numbers}, {note.site}"
    if brief:
        return f"{places}: {note.brief}"
    return " ".join((f"{places}: {note.text}", *note.trials))
