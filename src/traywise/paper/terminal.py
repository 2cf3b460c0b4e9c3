"""A tray, a forecast and the day's board as plain text, at most 100 columns, without colour.

The same words and shapes as on paper. Loads neither typst nor zxing-cpp.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from traywise.paper.columns import WIDTH, hanging, pad, table, width_of, wrap
from traywise.paper.day_board import BoardDose, DayBoard, dose_tail
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
from traywise.paper.questions import decides, question_in_line
from traywise.paper.steps import own_techniques, shared_reasons, split_steps, split_why
from traywise.paper.wording import (
    CARE,
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
from traywise.rulebook.tables import describe_sources
from traywise.schedule.answer import Answer, DoseVerdict, GroupForecast
from traywise.tray.plan import OpenQuestion, Place, Tray

NO_BREAK = "\u00a0"
RULE = "─" * WIDTH
NAME_AT = 7  # where the words of a place begin
WHY_ROOM = 2 * (WIDTH - NAME_AT) - 20  # two lines, less what wrapping may lose
_HEADS = ("", "group", "dose", "status", "earliest", "due", "overdue", "latest")


def tray_text(child: Child, answer: Answer, tray: Tray, on: date) -> str:
    """The whole tray: who, state, questions, what holds for all places, places in order, lay
    ready, not today, next dates, sources.
    """
    status = tray_status(tray)
    lines = [
        *_who("Tray for", child, on, answer, tray.needle_policy),
        *hanging(f"{status.shape} {status.word.upper()}  ", tray_status_detail(tray)),
        *_record_notes(answer),
        *(line for text in not_counted(answer) for line in hanging("▲ history  ", plain(text))),
        *_questions(tray.questions),
    ]
    for text in tray.cautions:
        lines += hanging("▲ ", plain(text))
    lines += _places(tray.tray)
    if tray.supplies:
        ready = [_kept(f"{s.count} × {plain(supply_words(s))}") for s in tray.supplies]
        first, *rest = wrap(f"{_kept('Lay ready:')} {' · '.join(ready)}", WIDTH - 2)
        lines += ["", first, *(f"  {line}" for line in rest)]
    lines += _not_today(tray)
    for note in tray.reach:
        if note.differs:
            lines += ["", *hanging("Second opinion  ", plain(reach_sentence(note, brief=True)))]
    lines += _next(answer, tray)
    return _finish(lines, [s for p in tray.tray for s in p.source], answer.edition)


def _questions(questions: Sequence[OpenQuestion]) -> list[str]:
    if not questions:
        return []
    lines = ["", "Ask first: yes, no, unknown or as in brackets; → the groups it decides"]
    for question in questions:
        what = decides(question, questions)
        lines += hanging("  ▲ ", question_in_line(question, what, WIDTH - 4))
    return lines


def forecast_text(child: Child, answer: Answer) -> str:
    """Doses of the record as judged, then a line a group: status, dates, why, source."""
    lines = _who("Forecast for", child, answer.assess_on, answer)
    lines += _record_notes(answer)
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
        lines += table(rows, indent=2)
    lines += ["", "What comes next"]
    # The last column would wrap; dates never do, so the reason goes on lines of its own.
    grid = table([_HEADS, *(_forecast_row(g, f) for g, f in answer.groups.items())], indent=2)
    lines.append(grid[0])
    for line, forecast in zip(grid[1:], answer.groups.values(), strict=True):
        lines.append(line)
        if forecast.why:
            unsure = " (from memory)" if forecast.unconfirmed else ""
            lines += hanging("       ", plain(forecast.why) + unsure)
    return _finish(lines, [f.source for f in answer.groups.values()], answer.edition)


def board_text(board: DayBoard) -> str:
    """The day: one sentence, a line a child, pick list, supplies, what to watch."""
    lines = [
        f"{plain(board.title)} · {day_with_weekday(board.on)} · schedule {board.edition}",
        plain(board.answer),
    ]
    if board.figures:
        lines += hanging("", " · ".join(f"{plain(v)} {plain(words)}" for v, words in board.figures))
    lines.append(RULE)
    for row in board.rows:
        status = f"{row.shape} {plain(row.word)}" + (f", {plain(row.note)}" if row.note else "")
        about = f" ({plain(row.about)})" if row.about else ""
        lines += hanging(f"{pad(plain(row.time), 6)} ", f"{plain(row.name)}{about}  {status}")
        doses = " · ".join(_board_dose(dose) for dose in row.doses) or "nothing today"
        lines += hanging(" " * 9, doses)
    if board.picks:
        lines += ["", "Take from the shelf"]
        lines += table(
            [
                (
                    str(pick.count),
                    plain(pick.unit),
                    plain(pick.what),
                    plain(pick.lot),
                    day(pick.expires),
                    plain(pick.note),
                )
                for pick in board.picks
            ],
            indent=2,
        )
    if board.supplies:
        lines += ["", "Count out"]
        lines += table([(str(s.count), plain(supply_words(s))) for s in board.supplies], indent=2)
    if board.preparations:
        lines += ["", "Mix or open, in this order"]
        lines += table(
            [
                (plain(step.time), plain(step.what), plain(step.use_by), plain(step.note))
                for step in board.preparations
            ],
            indent=2,
        )
    if board.not_served:
        lines += ["", "Due and not served"]
        for missed in board.not_served:
            who = f"{plain(missed.name)}, {', '.join(missed.groups)}"
            lines += hanging("  ", f"{who}: {plain(missed.why)} {plain(missed.change)}".strip())
    if board.watch:
        lines += ["", "Watch"]
        for item in board.watch:
            action = f" · {plain(item.action)}" if item.action else ""
            lines += hanging(f"  {item.shape} ", plain(item.text) + action)
    return _finish(lines, [], board.edition)


def _who(head: str, child: Child, on: date, answer: Answer, needles: str = "") -> list[str]:
    name = plain(child.name) if child.name else "name not recorded"
    when = day_with_weekday(on) + (f", {plain(child.appointment)}" if child.appointment else "")
    first = f"{head} {name}"
    right = f"{when} · schedule {answer.edition}"
    right += f" · needles {plain(needles)}" if needles else ""
    gap = WIDTH - width_of(first) - width_of(right)
    top = [first + " " * gap + right] if gap >= 2 else [*wrap(first, WIDTH), right]
    facts = " · ".join(_kept(f"{word} {value}") for word, value in child_facts(child, on))
    return [*top, *wrap(facts, WIDTH), RULE]


def _kept(text: str) -> str:
    """A fact that should not be broken over two lines."""
    return text.replace(" ", NO_BREAK)


def _record_notes(answer: Answer) -> list[str]:
    return [
        line
        for about, fault in record_notes(answer)
        for line in hanging(f"▲ {about}  ", plain(f"{fault.text} ({fault.code}, {fault.at})"))
    ]


def _places(places: Sequence[Place]) -> list[str]:
    """What holds for all, once; then each place with what is its own."""
    steps, own_steps = split_steps(places)
    reasons, own_reasons = split_why(places)
    techniques = own_techniques(places)
    lines: list[str] = []
    for shared in steps:
        texts = _run(("–", sentence(text)) for text in shared.texts)
        first, *rest = wrap(f"{_kept(shared.title)}: {texts}", WIDTH - 2)
        lines += [first, *(f"  {line}" for line in rest)]
    if reasons:
        lines += hanging("  why ", plain(shared_reasons(reasons)))
    for place in places:
        told = techniques[place.n], own_steps[place.n], own_reasons[place.n]
        lines += ["", *_place(place, *told)]
    return lines


def _run(marked: Iterable[tuple[str, str]]) -> str:
    """Steps in running text, the mark kept beside its first word."""
    return " ".join(f"{mark}{NO_BREAK}{text}" for mark, text in marked)


def _place(place: Place, technique: str, steps: Sequence[str], why: Sequence[str]) -> list[str]:
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
        *hanging(lead, " · ".join([f"{plain(place.name)} ({doses})", *map(_kept, facts)])),
        *hanging(pad(" where", NAME_AT), where),
        *hanging(pad(" with", NAME_AT), _with(place, technique)),
    ]
    if place.needle_missing:
        lines += hanging(f"{' ' * NAME_AT}▲ not at hand: ", plain(place.needle_missing))
    if marked := marked_steps(place, steps):
        lines += hanging(pad(" do", NAME_AT), _run(marked))
    if why:
        lines += hanging(pad(" why", NAME_AT), short_why(why, WHY_ROOM))
    return lines


def _with(place: Place, technique: str) -> str:
    needle = needle_on_place(place)
    if place.needle is not None:
        # One column a millimetre: length is what the eye compares, on the screen too.
        needle = f"├{'─' * place.needle.length_mm}▶{NO_BREAK}{needle}"
    also = needle_alternatives(place)
    parts = [needle, plain(place.syringe), plain(technique), f"or {also}" if also else ""]
    return ", ".join(part for part in parts if part)


def _not_today(tray: Tray) -> list[str]:
    lines = [""]
    for item in tray.not_today:
        status = not_today_status(item)
        serve = f" Would serve: {', '.join(item.would_serve)}." if item.would_serve else ""
        word = status.word if item.until else "not today"
        lines += hanging(f"{status.shape} ", f"{item.group}, {word}: {sentence(item.why)}{serve}")
    return lines


def _next(answer: Answer, tray: Tray) -> list[str]:
    """Doses ahead, those of one date together; the whole table is in the forecast."""
    by_date: dict[str, list[str]] = {}
    for group, forecast in groups_ahead(answer, tray):
        number = f" dose {forecast.next_dose}" if forecast.next_dose is not None else ""
        name = next_vaccine(group, forecast)
        by_date.setdefault(_when(forecast, answer.assess_on), []).append(_kept(name + number))
    ahead = [f"{_kept(when)} {', '.join(doses)}" for when, doses in by_date.items()]
    lead = "after today: " if tray.tray else ""
    lines = hanging("Next  ", lead + " · ".join(ahead)) if ahead else []
    settled = " ".join(settled_lines(answer, tray))
    return [*lines, *(hanging("      ", settled) if settled else [])]


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


def _board_dose(dose: BoardDose) -> str:
    return f"{plain(dose.name)} {dose_tail(dose)}"


def _finish(lines: list[str], sources: Iterable[str], edition: str) -> str:
    texts = describe_sources(source for source in sources if source)
    if texts:
        lines = [*lines, "", *wrap(f"Sources: {' · '.join(map(plain, texts))}.", WIDTH)]
    foot = [*wrap(f"Edition: {edition_words(edition)}.", WIDTH), *wrap(CARE, WIDTH)]
    return "\n".join([*lines, RULE, *foot]).replace(NO_BREAK, " ") + "\n"
