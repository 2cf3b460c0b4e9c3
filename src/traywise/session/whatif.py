"""What if: the same session with one thing changed, and the difference in plain words.

Each change makes another session; both are planned by the same search. Nothing is
written back: neither stock nor roster.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from datetime import UTC, date, datetime, timedelta, tzinfo
from difflib import get_close_matches

import msgspec

from traywise.errors import Fault, InputError
from traywise.record.child import Child
from traywise.session.make_plan import plan_session
from traywise.session.plan import SessionPlan
from traywise.session.request import Session, SessionChild, prepare
from traywise.shelf.lot import Lot
from traywise.tray.need import Need


class Difference(msgspec.Struct, frozen=True, kw_only=True):
    """What a change does: sentences, the figures behind them, and the new plan."""

    lines: tuple[str, ...]
    doses: int  # due groups covered, after minus before
    injections: int
    served: tuple[str, ...]  # children who get something now and did not before
    turned_away: tuple[str, ...]  # children who got something and get nothing now
    plan: SessionPlan


def walk_ins(session: Session, children: Sequence[SessionChild]) -> Session:
    """The session with further children; those without an appointment are spread over it."""
    return _again(session, [*session.children, *children], session.vaccinators)


def vaccinators(session: Session, change: int) -> Session:
    """The session with so many vaccinators more or, below zero, less; none at least."""
    return _again(session, session.children, max(0, session.vaccinators + change))


def check_lot(shelf: Sequence[Lot], lot: str) -> None:
    """Raises InputError when no such lot number is on the shelf; names the nearest."""
    known = sorted({one.lot for one in shelf})
    if lot not in known:
        near = get_close_matches(lot, known, n=3) or known[:5]
        nearest = f" The nearest: {', '.join(near)}." if near else ""
        text = f"No such lot is on the shelf.{nearest}"
        raise InputError([Fault("session.E010", f"lot {lot}", text)])


def check_unit(shelf: Sequence[Lot], unit: str) -> None:
    """Raises InputError when nothing lies in such a unit; names those that hold something."""
    known = sorted({one.unit for one in shelf if one.unit})
    if unit not in known:
        text = "Nothing lies in such a unit." + (f" Units: {', '.join(known)}." if known else "")
        raise InputError([Fault("session.E011", f"unit {unit}", text)])


def quarantine(session: Session, lot: str, why: str = "in quarantine") -> Session:
    """The session without a lot number, in every unit; InputError when it is not on the shelf."""
    check_lot(session.shelf, lot)
    return _hold(session, lambda one: one == lot, lambda _: False, why)


def lose_unit(session: Session, unit: str, why: str = "its unit failed") -> Session:
    """The session without a fridge or freezer; InputError when nothing lies in it."""
    check_unit(session.shelf, unit)
    return _hold(session, lambda _: False, lambda one: one == unit, why)


def move_to(session: Session, day: date, assess: Callable[[Child, date], Need]) -> Session:
    """The session at the same hours of another day, every child assessed for that day."""
    days = day.toordinal() - session.on.toordinal()
    children = [
        SessionChild(
            need=assess(child.need.child, day),
            at=None if child.at is None else _on(child.at, days, session.zone),
            back=child.back,
        )
        for child in session.children
    ]
    return prepare(
        children,
        session.shelf if session.shelf_known else None,
        _on(session.start, days, session.zone),
        _on(session.end, days, session.zone),
        vaccinators=session.vaccinators,
        weights=session.weights,
        zone=session.zone,
        next_session=session.next_session,
    )


def what_if(before: SessionPlan, changed: Session, seconds: float = 2.0) -> Difference:
    """Plans the changed session and says what differs."""
    return compare(before, plan_session(changed, seconds=seconds))


def compare(before: SessionPlan, after: SessionPlan) -> Difference:
    """The difference of two plans in plain words, the weightiest first."""
    had = {visit.child for visit in before.visits if visit.picks}
    has = {visit.child for visit in after.visits if visit.picks}
    stay = {visit.child for visit in after.visits}
    served, away = sorted(has - had), sorted((had - has) & stay)
    doses, injections = after.doses - before.doses, after.injections - before.injections
    lines = [
        _more_or_less(doses, "due dose", before.doses, after.doses),
        _named("served who were not", served, after),
        _named("who would have been served go home without", away, after),
        _less_for(before, after, has & had),
        _more_or_less(injections, "injection", before.injections, after.injections),
        _more_or_less(
            _left(after) - _left(before),
            "dose left in opened vials",
            _left(before),
            _left(after),
            "doses left in opened vials",
        ),
        _finish(before, after),
        ""
        if after.proven
        else "The new plan is not proven to be the best; more time may better it.",
    ]
    said = tuple(line for line in lines if line) or ("Nothing changes.",)
    return Difference(
        lines=said,
        doses=doses,
        injections=injections,
        served=tuple(served),
        turned_away=tuple(away),
        plan=after,
    )


def _again(session: Session, children: Sequence[SessionChild], vaccinators: int) -> Session:
    return prepare(
        children,
        session.shelf if session.shelf_known else None,
        session.start,
        session.end,
        vaccinators=vaccinators,
        weights=session.weights,
        zone=session.zone,
        next_session=session.next_session,
    )


def _hold(
    session: Session, lot: Callable[[str], bool], unit: Callable[[str], bool], why: str
) -> Session:
    shelf = tuple(
        msgspec.structs.replace(one, held=one.held or why)
        if lot(one.lot) or unit(one.unit)
        else one
        for one in session.shelf
    )
    return msgspec.structs.replace(session, shelf=shelf)


def _on(moment: datetime, days: int, zone: tzinfo | None) -> datetime:
    """The same hour of the clinic's clock so many days later, without offset.

    Without offset, because a fixed one would be an hour off after the clock changes.
    """
    return moment.astimezone(zone).replace(tzinfo=None) + timedelta(days=days)


def _left(plan: SessionPlan) -> int:
    return sum(unused.doses for unused in plan.leftovers)


def _more_or_less(change: int, one: str, before: int, after: int, many: str = "") -> str:
    if not change:
        return ""
    words = one if abs(change) == 1 else (many or one + "s")
    more = "more" if change > 0 else "fewer"
    return f"{abs(change)} {more} {words} ({before} before, {after} now)."


def _named(what: str, children: Collection[str], plan: SessionPlan) -> str:
    """How many and who, by name where there is one, in the order of the session."""
    if not children:
        return ""
    names = [visit.name or visit.child for visit in plan.visits if visit.child in children]
    shown = ", ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")
    return f"{len(children)} {'child' if len(children) == 1 else 'children'} {what}: {shown}."


def _less_for(before: SessionPlan, after: SessionPlan, both: set[str]) -> str:
    def covered(plan: SessionPlan) -> dict[str, int]:
        return {v.child: sum(len(p.groups) for p in v.picks) for v in plan.visits}

    was, now = covered(before), covered(after)
    fewer = [child for child in both if now[child] < was[child]]
    verb = "gets" if len(fewer) == 1 else "get"
    return _named(f"{verb} fewer doses than before", fewer, after)


def _finish(before: SessionPlan, after: SessionPlan) -> str:
    if before.finish is None or after.finish is None or before.on != after.on:
        return ""
    minutes = (after.finish.astimezone(UTC) - before.finish.astimezone(UTC)).total_seconds() / 60
    if abs(minutes) < 1:
        return ""
    how = "later" if minutes > 0 else "earlier"
    return f"The last visit ends {abs(round(minutes))} minutes {how}, at {after.finish:%H:%M}."
