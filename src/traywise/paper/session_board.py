"""The day's board of a planned session: sentences, rows, picks, supplies, what to watch."""

from __future__ import annotations

from collections.abc import Iterator

from traywise.calendar import age_on
from traywise.equipment.in_date import expired
from traywise.equipment.supplies import describe_item
from traywise.equipment.weight import is_preterm
from traywise.paper.day_board import (
    BoardDose,
    BoardRow,
    DayBoard,
    NotServed,
    Pick,
    Preparation,
    Watch,
)
from traywise.record.child import Child
from traywise.rulebook.conditions import conditions
from traywise.session.day import SessionDay
from traywise.session.plan import PickLine
from traywise.tray.compose import Visit
from traywise.tray.supplies import supplies_together

_HALF_DAYS = ((12, "morning"), (17, "afternoon"), (24, "evening"))


def board_of(day: SessionDay) -> DayBoard:
    """Everything a preparation room wants at a glance."""
    plan = day.plan
    saved = plan.doses - plan.injections
    rows = tuple(
        _row(f"{planned.at:%H:%M}", child, visit, day)
        for planned, child, visit in zip(plan.visits, day.children, day.visits, strict=True)
    )
    figures = [(str(plan.doses), "doses due and planned"), (str(plan.injections), "places")]
    if saved > 0:
        figures.append((str(saved), "injections saved by combinations"))
    return DayBoard(
        title=f"{day.on:%A} {_half_day(day)}",
        answer=_answer(day),
        on=day.on,
        edition=day.edition,
        figures=tuple(figures),
        rows=rows,
        picks=tuple(_pick(line) for line in plan.pick_list),
        supplies=supplies_together(visit.tray.supplies for visit in day.visits),
        watch=tuple(_watch(day)),
        preparations=tuple(_preparations(day)),
        not_served=tuple(_not_served(day)),
    )


def _half_day(day: SessionDay) -> str:
    return next(word for hour, word in _HALF_DAYS if day.plan.start.hour < hour)


def _answer(day: SessionDay) -> str:
    children = f"{len(day.children)} {'child' if len(day.children) == 1 else 'children'}"
    text = f"{children}, {day.plan.doses} doses planned"
    if not day.children:
        text = "No child is planned for"
    elif not day.plan.missed:
        text += ", all that is due is served"
    else:
        text += f", {day.plan.missed} due and not served today"
    if not day.notes:
        return text
    # What the reader must know first stands first; the rest of it is to be watched.
    return " ".join([*(f"{note.partition(':')[0]}." for note in day.notes), f"{text}."])


def _row(time: str, child: Child, visit: Visit, day: SessionDay) -> BoardRow:
    tray = visit.tray
    stopped = [item for item in tray.not_today if _holds_back(item.group, visit)]
    if tray.questions:
        count = len(tray.questions)
        status, word = "answer", f"{count} question{'' if count == 1 else 's'} open"
        note = "then ready to lay" if tray.tray else ""
        # Open questions never hide what is held back already.
        if stopped:
            note = _and(note, f"{', '.join(item.group for item in stopped)} not today")
    elif stopped:
        status, word = "stop", f"{', '.join(item.group for item in stopped)} not today"
        until = [item.until for item in stopped if item.until is not None]
        note = f"earliest {min(until)}" if until else "see the tray"
    elif tray.tray:
        status, word, note = "ready", "Ready to lay", ""
    else:
        status, word, note = "waiting", "Nothing due", ""
    left = [item.group for item in tray.not_today if item not in stopped]
    if left:
        note = _and(note, f"without {', '.join(left)}")
    return BoardRow(
        time=time,
        name=child.name or child.id,
        about=_about(child, day),
        doses=tuple(
            BoardDose(
                name=place.vaccine,
                route=place.route,
                needle_mm=place.needle.length_mm if place.needle else None,
                gauge=place.needle.gauge if place.needle else None,
                lot=place.lot,
            )
            for place in tray.tray
        ),
        status=status,
        word=word,
        note=note,
    )


def _and(first: str, second: str) -> str:
    return f"{first}, {second}" if first else second


def _holds_back(group: str, visit: Visit) -> bool:
    """Whether a reason of the child's own, not the shelf, keeps a group off the tray."""
    return visit.answer.groups[group].status in ("contraindicated", "deferred")


def _about(child: Child, day: SessionDay) -> str:
    facts = [str(age_on(child.born, day.on))]
    if child.gestation_weeks is not None and is_preterm(child.gestation_weeks):
        facts.append(f"born at {child.gestation_weeks} weeks")
    known = conditions()
    for key in sorted(child.conditions_on(day.on)):
        if key in known and not key.startswith(("mother-", "preterm")):
            facts.append(key.replace("-", " "))
    return ", ".join(facts)


def _pick(line: PickLine) -> Pick:
    note = line.presentation if not line.diluent else f"with its diluent ({line.diluent})"
    return Pick(
        unit=line.unit,
        what=line.vaccine,
        lot=line.lot,
        count=line.doses,
        expires=line.expires,
        note=note,
    )


def _watch(day: SessionDay) -> Iterator[Watch]:
    for note in day.notes:
        yield Watch(status="stop", text=note)
    for child, visit in zip(day.children, day.visits, strict=True):
        for place in visit.tray.tray:
            if place.needle_missing:
                text = f"{child.name or child.id}, place {place.n}: {place.needle_missing}"
                yield Watch(status="stop", text=text, action="get")
    for supply in expired(day.supplies or (), day.on):
        text = f"{supply.count} × {describe_item(supply)}: expired on {supply.expires}"
        yield Watch(status="stop", text=text, action="take out, not counted")
    for unused in day.plan.expiring:
        text = f"{unused.vaccine} {unused.lot}: {unused.doses} left, {unused.why}"
        yield Watch(status="answer", text=text, action="use first")
    for unused in day.plan.leftovers:
        text = f"{unused.vaccine} {unused.lot}: {unused.doses} left in the opened vial"
        yield Watch(status="answer", text=text, action=f"until {unused.ends:%Y-%m-%d %H:%M}")
    for reorder in day.plan.reorder:
        text = f"{reorder.vaccine}: {reorder.left} left after today, {reorder.missing} missing"
        yield Watch(status="answer", text=text, action=f"order {reorder.order}")


_DOING = {"mix": "mix", "open": "open a vial of", "go on": "go on with the opened vial of"}


def _preparations(day: SessionDay) -> Iterator[Preparation]:
    """What to mix or open when; how long it keeps is told with the day when it is another one."""
    names = {child.id: child.name or child.id for child in day.children}
    for step in day.plan.timeline:
        same_day = step.use_by.date() == day.on
        yield Preparation(
            time=f"{step.at:%H:%M}",
            what=f"{_DOING[step.what]} {step.vaccine}, lot {step.lot}",
            use_by=f"{step.use_by:%H:%M}" if same_day else f"{step.use_by:%Y-%m-%d %H:%M}",
            note=", ".join(names[child] for child in step.children),
        )


def _not_served(day: SessionDay) -> Iterator[NotServed]:
    """Due groups that a child misses, those of one reason together."""
    for visit in day.plan.visits:
        by_reason: dict[tuple[str, str], list[str]] = {}
        for missed in visit.missed:
            change = "; ".join(change.text for change in missed.changes)
            by_reason.setdefault((missed.why, change), []).append(missed.group)
        for (why, change), groups in by_reason.items():
            yield NotServed(
                name=visit.name or visit.child,
                groups=tuple(groups),
                why=why if why.endswith(".") else f"{why}.",
                change=f"{change[0].upper()}{change[1:]}." if change else "",
            )
