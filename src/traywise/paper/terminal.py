"""A tray, a forecast and the day's board as plain text, at most 100 columns, without colour.

The same words and shapes as on paper. Loads neither typst nor zxing-cpp.
"""

from __future__ import annotations

from datetime import date

from traywise.paper.columns import WIDTH, hanging, pad, table, width_of, wrap
from traywise.paper.day_board import BoardDose, DayBoard, dose_tail
from traywise.paper.facts import (
    child_facts,
    groups_ahead,
    keeping_words,
    needle_on_place,
    sentence,
    settled_lines,
)
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
from traywise.rulebook.tables import describe_source
from traywise.schedule.answer import Answer, DoseVerdict, GroupForecast
from traywise.tray.plan import Place, Tray

NO_BREAK = "\u00a0"
RULE = "─" * WIDTH
NAME_AT = 10  # where the words of a place begin
_HEADS = ("", "group", "dose", "status", "earliest", "due", "overdue", "latest")


def tray_text(child: Child, answer: Answer, tray: Tray, on: date) -> str:
    """The whole tray: who, state, questions, places in order, not today, next dates, sources."""
    status = tray_status(tray)
    lines = [
        *_who("Tray for", child, on, answer),
        *hanging(f"{status.shape} {status.word.upper()}  ", tray_status_detail(tray)),
        *_record_notes(answer),
    ]
    if tray.questions:
        lines += ["", "Ask first"]
        for question in tray.questions:
            private = " (ask in private)" if question.private else ""
            choices = " / ".join(question.answers)
            lines += hanging(
                "  ▲ ",
                f"{plain(question.text)} [{choices}] decides {', '.join(question.groups)}{private}",
            )
    for text in tray.cautions:
        lines += hanging("▲ ", plain(text))
    for place in tray.tray:
        lines += ["", *_place(place)]
    if tray.supplies:
        ready = [_kept(f"{s.count} × {plain(supply_words(s))}") for s in tray.supplies]
        lines += ["", *hanging("Lay ready  ", " · ".join(ready))]
    lines += _not_today(tray)
    lines += _next(answer, tray)
    return _finish(lines, [s for p in tray.tray for s in p.source])


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
                "; ".join(
                    f"{group} {verdict.status}"
                    + (f": {plain(verdict.reason)}" if verdict.reason else "")
                    for group, verdict in judged.groups.items()
                )
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
    return _finish(lines, [f.source for f in answer.groups.values()])


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
    if board.watch:
        lines += ["", "Watch"]
        for item in board.watch:
            action = f" · {plain(item.action)}" if item.action else ""
            lines += hanging(f"  {item.shape} ", plain(item.text) + action)
    return _finish(lines, [])


def _who(head: str, child: Child, on: date, answer: Answer) -> list[str]:
    name = plain(child.name) if child.name else "name not recorded"
    when = day_with_weekday(on) + (f", {plain(child.appointment)}" if child.appointment else "")
    first = f"{head} {name}"
    right = f"{when} · schedule {answer.edition}"
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
        for fault in (*answer.errors, *answer.warnings)
        for line in hanging("▲ record  ", plain(f"{fault.text} ({fault.code}, {fault.at})"))
    ]


def _place(place: Place) -> list[str]:
    lead = pad(f" [{place.n}]", NAME_AT)
    indent = " " * NAME_AT
    where = plain(place.site_text)
    if place.site:
        where += f", {ROUTES.get(place.route, place.route)}"
    if place.angle_deg is not None:
        where += f", at {place.angle_deg}°"
    facts = [f"dose {volume_words(place.volume_ml)}", f"lot {plain(place.lot or 'not chosen')}"]
    facts.append(f"expires {day(place.expires) if place.expires else 'not recorded'}")
    facts += [plain(text) for text in (place.unit, place.funding) if text]
    doses = dose_words(place.dose_numbers, place.groups)
    lines = [
        *hanging(lead, f"{plain(place.name)}  ({doses})"),
        *hanging(pad("   where", NAME_AT), where),
        *hanging(pad("   what", NAME_AT), " · ".join(_kept(fact) for fact in facts)),
        *hanging(pad("   with", NAME_AT), _with(place)),
    ]
    if place.needle is not None:
        # One column a millimetre: length is what the eye compares, on the screen too.
        lines.append(f"{indent}├{'─' * place.needle.length_mm}▶ {place.needle.length_mm} mm")
    if place.needle_missing:
        lines += hanging(f"{indent}▲ not at hand: ", plain(place.needle_missing))
    for number, step in enumerate(place.steps, start=1):
        lines += hanging(f"{indent}{number}. ", plain(step))
    if place.use_within_minutes is not None:
        lines += hanging(f"{indent}▲ ", f"use {keeping_words(place.use_within_minutes)}")
    for text in place.cautions:
        lines += hanging(f"{indent}▲ ", plain(text))
    if place.why:
        lines += hanging(pad("   why", NAME_AT), plain("; ".join(place.why)))
    return lines


def _with(place: Place) -> str:
    parts = [needle_on_place(place), plain(place.syringe), plain(place.technique)]
    return ", ".join(part for part in parts if part)


def _not_today(tray: Tray) -> list[str]:
    if not tray.not_today:
        return []
    lines = ["", "Not today"]
    for item in tray.not_today:
        status = not_today_status(item)
        serve = f" Would serve: {', '.join(item.would_serve)}." if item.would_serve else ""
        lines += hanging(
            f"  {status.shape} ", f"{item.group}, {status.word}: {sentence(item.why)}{serve}"
        )
    return lines


def _next(answer: Answer, tray: Tray) -> list[str]:
    ahead = groups_ahead(answer, tray)
    lines = []
    if ahead:
        rows = [_HEADS, *(_forecast_row(group, forecast) for group, forecast in ahead)]
        lines += ["", "Next dates", *table(rows, indent=2)]
    settled = settled_lines(answer)
    return [*lines, *(line for text in settled for line in hanging("  ", text))]


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


def _finish(lines: list[str], sources: list[str]) -> str:
    texts = list(dict.fromkeys(plain(describe_source(s)) for s in sources if s))
    if texts:
        lines = [*lines, "", *hanging("Sources  ", "; ".join(texts) + ".")]
    return "\n".join([*lines, RULE, *wrap(CARE, WIDTH)]).replace(NO_BREAK, " ") + "\n"
