"""A tray and a forecast as plain text, 100 columns wide or as asked, uncoloured.

The same words and shapes as on paper. Loads neither typst nor zxing-cpp.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from traywise.paper.columns import WIDTH, Page, fits, pad, width_of
from traywise.paper.facts import (
    child_facts,
    earliest_worth_telling,
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
from traywise.paper.questions import decides, question_in_line
from traywise.paper.steps import own_techniques, shared_reasons, split_steps, split_why
from traywise.paper.text_frame import NO_BREAK, finish, kept
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
from traywise.rulebook.codes import cvx_codes
from traywise.schedule.answer import Answer, DoseVerdict, GroupForecast
from traywise.tray.plan import OpenQuestion, Place, Tray

NAME_AT = 7  # where the words of a place begin
_HEADS = ("", "group", "dose", "status", "earliest", "due", "overdue", "latest")


def tray_text(child: Child, answer: Answer, tray: Tray, on: date, *, width: int = WIDTH) -> str:
    """The whole tray: who, state, questions, what holds for all places, places in order, lay
    ready, not today, next dates, sources.
    """
    status, page = tray_status(tray), Page(width)
    lines = [
        *_who(page, "Tray for", child, on, answer, tray.needle_policy),
        *page.hanging(f"{status.shape} {status.word.upper()}  ", tray_status_detail(tray)),
        *_record_notes(page, answer),
        *(
            line
            for text in not_counted(answer)
            for line in page.hanging("▲ history  ", plain(text))
        ),
        *_questions(page, tray.questions),
    ]
    for text in tray.cautions:
        lines += page.hanging("▲ ", plain(text))
    lines += _places(page, tray.tray)
    if tray.supplies:
        ready = [kept(f"{s.count} × {plain(supply_words(s))}") for s in tray.supplies]
        lines += ["", *page.run_on(f"{kept('Lay ready:')} {' · '.join(ready)}")]
    lines += _not_today(page, tray)
    for note in tray.reach:
        if note.differs:
            lines += [
                "",
                *page.hanging("Second opinion  ", plain(reach_sentence(note, brief=True))),
            ]
    lines += _next(page, answer, tray)
    return finish(page, lines, [s for p in tray.tray for s in p.source], answer.edition)


def _questions(page: Page, questions: Sequence[OpenQuestion]) -> list[str]:
    if not questions:
        return []
    how = "Ask first: yes, no, unknown or as in brackets; → the groups it decides"
    lines = ["", *page.run_on(how)]
    for question in questions:
        what = decides(question, questions)
        lines += page.hanging("  ▲ ", question_in_line(question, what, page.width - 4))
    return lines


def forecast_text(child: Child, answer: Answer, *, width: int = WIDTH) -> str:
    """Doses of the record as judged, then a line a group: status, dates, why, source."""
    page = Page(width)
    lines = _who(page, "Forecast for", child, answer.assess_on, answer)
    lines += _record_notes(page, answer)
    if answer.doses:
        lines += ["", "Doses given"]
        rows = [
            (
                judged.on.isoformat(),
                _vaccine_name(judged.cvx),
                "; ".join(_verdict(group, verdict) for group, verdict in judged.groups.items())
                or "counts for no group",
            )
            for judged in answer.doses
        ]
        lines += page.table(rows, indent=2)
    lines += ["", "What comes next"]
    head, *groups = _forecast_lines(page, answer)
    lines += head
    for shown, forecast in zip(groups, answer.groups.values(), strict=True):
        lines += shown
        if forecast.why:
            unsure = " (from memory)" if forecast.unconfirmed else ""
            lines += page.hanging("       ", plain(forecast.why) + unsure)
    return finish(page, lines, [f.source for f in answer.groups.values()], answer.edition)


def _who(
    page: Page, head: str, child: Child, on: date, answer: Answer, needles: str = ""
) -> list[str]:
    name = plain(child.name) if child.name else "a child, name not recorded"
    when = day_with_weekday(on) + (f", {plain(child.appointment)}" if child.appointment else "")
    first = f"{head} {name}"
    right = f"{when} · schedule {answer.edition}"
    right += f" · needles {plain(needles)}" if needles else ""
    gap = page.width - width_of(first) - width_of(right)
    top = [first + " " * gap + right] if gap >= 2 else [*page.wrap(first), right]
    facts = " · ".join(kept(f"{word} {value}") for word, value in child_facts(child, on))
    return [*top, *page.wrap(facts), page.rule]


def _record_notes(page: Page, answer: Answer) -> list[str]:
    return [
        line
        for about, fault in record_notes(answer)
        for line in page.hanging(f"▲ {about}  ", plain(f"{fault.text} ({fault.code}, {fault.at})"))
    ]


def _places(page: Page, places: Sequence[Place]) -> list[str]:
    """What holds for all, once; then each place with what is its own."""
    steps, own_steps = split_steps(places)
    reasons, own_reasons = split_why(places)
    techniques = own_techniques(places)
    lines: list[str] = []
    for shared in steps:
        texts = _run(("–", sentence(text)) for text in shared.texts)
        lines += page.run_on(f"{kept(shared.title)}: {texts}")
    if reasons:
        lines += page.hanging("  why ", plain(shared_reasons(reasons)))
    for place in places:
        told = techniques[place.n], own_steps[place.n], own_reasons[place.n]
        lines += ["", *_place(page, place, *told)]
    return lines


def _run(marked: Iterable[tuple[str, str]]) -> str:
    """Steps in running text, the mark kept beside its first word."""
    return " ".join(f"{mark}{NO_BREAK}{text}" for mark, text in marked)


def _place(
    page: Page, place: Place, technique: str, steps: Sequence[str], why: Sequence[str]
) -> list[str]:
    lead = pad(f" [{place.n}]", NAME_AT)
    where = plain(place.site_text)
    if place.site:
        where += f", {ROUTES.get(place.route, place.route)}"
    if place.angle_deg is not None:
        where += f", at {place.angle_deg}°"
    facts = [volume_words(place.volume_ml), f"lot {plain(place.lot or 'not chosen')}"]
    facts.append(f"expires {day(place.expires) if place.expires else 'not recorded'}")
    facts += [plain(text) for text in (place.unit, place.funding) if text]
    doses = dose_words(place.dose_numbers, place.groups)
    lines = [
        *page.hanging(lead, " · ".join([f"{plain(place.name)} ({doses})", *map(kept, facts)])),
        *page.hanging(pad(" where", NAME_AT), where),
        *page.hanging(pad(" with", NAME_AT), _with(place, technique)),
    ]
    if place.needle_missing:
        lines += page.hanging(f"{' ' * NAME_AT}▲ not at hand: ", plain(place.needle_missing))
    if marked := marked_steps(place, steps):
        lines += page.hanging(pad(" do", NAME_AT), _run(marked))
    if why:
        lines += page.hanging(pad(" why", NAME_AT), short_why(why, _why_room(page)))
    return lines


def _why_room(page: Page) -> int:
    """Letters of two lines, less what wrapping may lose."""
    return 2 * (page.width - NAME_AT) - 20


def _with(place: Place, technique: str) -> str:
    needle = needle_on_place(place)
    if place.needle is not None:
        # One column a millimetre: length is what the eye compares, on the screen too.
        needle = f"├{'─' * place.needle.length_mm}▶{NO_BREAK}{needle}"
    also = needle_alternatives(place)
    parts = [needle, plain(place.syringe), plain(technique), f"or {also}" if also else ""]
    return ", ".join(part for part in parts if part)


def _not_today(page: Page, tray: Tray) -> list[str]:
    lines = [""]
    for item in tray.not_today:
        status = not_today_status(item)
        serve = f" Would serve: {', '.join(item.would_serve)}." if item.would_serve else ""
        word = status.word if item.until else "not today"
        lines += page.hanging(
            f"{status.shape} ", f"{item.group}, {word}: {sentence(item.why)}{serve}"
        )
    return lines


def _next(page: Page, answer: Answer, tray: Tray) -> list[str]:
    """Doses ahead, those of one date together; the whole table is in the forecast."""
    by_date: dict[str, list[str]] = {}
    for group, forecast in groups_ahead(answer, tray):
        number = f" dose {forecast.next_dose}" if forecast.next_dose is not None else ""
        name = next_vaccine(group, forecast)
        by_date.setdefault(_when(forecast, answer.assess_on), []).append(kept(name + number))
    ahead = [f"{kept(when)} {', '.join(doses)}" for when, doses in by_date.items()]
    lead = "after today: " if tray.tray else ""
    lines = page.hanging("Next  ", lead + " · ".join(ahead)) if ahead else []
    settled = " ".join(settled_lines(answer, tray))
    return [*lines, *(page.hanging("      ", settled) if settled else [])]


def _when(forecast: GroupForecast, on: date) -> str:
    """The date a parent is told, with the status unless it is plainly ahead."""
    status = group_status(forecast)
    words = [status.shape] + ([status.word] if forecast.status != "not yet" else [])
    if forecast.until:
        return f"{' '.join(words)} until {forecast.until.isoformat()}:"
    words.append(day(forecast.due) if forecast.due else "no date")
    if earliest_worth_telling(forecast, on):
        words.append(f"(earliest {day(forecast.earliest)})")
    return f"{' '.join(words)}:"


def _forecast_lines(page: Page, answer: Answer) -> list[list[str]]:
    """The heads, then each group; where a page is too narrow for columns, its dates below it."""
    rows = [_HEADS, *(_forecast_row(g, f) for g, f in answer.groups.items())]
    if fits(rows, indent=2, width=page.width):
        return [[line] for line in page.table(rows, indent=2)]
    found: list[list[str]] = [[]]
    for shape, group, dose, status, *dates in rows[1:]:
        number = "" if dose == "–" else f" dose {dose}"
        told = [
            kept(f"{name} {day}") for name, day in zip(_HEADS[4:], dates, strict=True) if day != "–"
        ]
        lines = page.hanging(f"  {shape} ", f"{kept(group + number)}, {kept(status)}")
        found.append([*lines, *(page.hanging("       ", " · ".join(told)) if told else [])])
    return found


def _forecast_row(group: str, forecast: GroupForecast) -> tuple[str, ...]:
    status = group_status(forecast)
    word = status.word + (f" until {forecast.until.isoformat()}" if forecast.until else "")
    dose = str(forecast.next_dose) if forecast.next_dose is not None else "–"
    dates = (forecast.earliest, forecast.due, forecast.overdue, forecast.latest)
    return (status.shape, group, dose, word, *(day(value) for value in dates))


def _vaccine_name(cvx: str) -> str:
    known = cvx_codes().get(cvx)
    return f"{known.name} ({cvx})" if known else f"CVX {cvx}, unknown code"


def _verdict(group: str, verdict: DoseVerdict) -> str:
    reason = f": {plain(verdict.reason)}" if verdict.reason else ""
    return f"{group} {verdict.status}{reason}"
