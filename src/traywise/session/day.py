"""A whole session from records and shelf: every child assessed, screened, planned and composed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta

import msgspec

from traywise.equipment.place import SupplyOnHand
from traywise.equipment.tables import DEFAULT_POLICY
from traywise.record.child import Child
from traywise.schedule.answer import Answer
from traywise.schedule.assess import assess
from traywise.screening.screen import screen
from traywise.screening.verdicts import Screening
from traywise.session.make_plan import plan_session
from traywise.session.plan import SessionPlan
from traywise.session.plan import Visit as PlannedVisit
from traywise.session.request import Session, SessionChild, Weights, prepare
from traywise.session.supplies_left import take_supplies
from traywise.shelf.lot import Lot
from traywise.tray.blocks import blocks_of
from traywise.tray.compose import Visit, candidates, compose_from, due_groups
from traywise.tray.need import need_of
from traywise.tray.plan import NotToday
from traywise.tray.products import Choice

MORNING = (time(8, 0), time(12, 0))
AFTER_LAST = timedelta(minutes=60)


class SessionDay(msgspec.Struct, frozen=True, kw_only=True):
    """A planned session.

    children  in the order of the appointments; ``visits`` beside them, one a child
    session   what was planned, kept for "what if" and for the checker
    """

    on: date
    edition: str
    children: tuple[Child, ...]
    visits: tuple[Visit, ...]
    session: Session
    plan: SessionPlan


class Hours(msgspec.Struct, frozen=True, kw_only=True):
    """When the session runs and who vaccinates; None: taken from the roster, or not limited."""

    start: time | None = None
    end: time | None = None
    vaccinators: int | None = None


def plan_day(
    children: Sequence[Child],
    on: date,
    shelf: Sequence[Lot],
    supplies: Sequence[SupplyOnHand] | None = None,
    edition: str = "us-2025",
    *,
    hours: Hours | None = None,
    weights: Weights | None = None,
    policy: str = DEFAULT_POLICY,
    seconds: float = 20.0,
    progress: Callable[[str], None] | None = None,
    optimise: bool = True,
    asked: frozenset[str] = frozenset(),
) -> SessionDay:
    """All trays of a session; raises InputError when roster and hours do not fit together.

    seconds   for the search of the optimum
    optimise  False: child by child, as a clinic does without a plan
    asked     groups left to the clinician that the clinician decided to give
    """
    known: dict[str, tuple[Child, Answer, Screening]] = {}
    booked = []
    products = candidates(shelf)
    for child in children:
        answer = assess(child, edition, on)
        screening = screen(child, on, due_groups(answer, asked), products)
        known[child.id] = (child, answer, screening)
        need = need_of(child, on, answer, blocks_of(screening.findings), None, asked)
        booked.append(SessionChild(need=need, at=_appointment(child, on)))
    session = _session(booked, on, shelf, hours or Hours(), weights)
    plan = plan_session(session, seconds=seconds, progress=progress, optimise=optimise)
    ordered, visits, left = [], [], supplies
    for planned in plan.visits:
        child, answer, screening = known[planned.child]
        visit = compose_from(child, on, answer, screening, _choice(planned), left, policy, asked)
        left = take_supplies(left, visit.tray.supplies)
        ordered.append(child)
        visits.append(visit)
    return SessionDay(
        on=on,
        edition=visits[0].answer.edition if visits else edition,
        children=tuple(ordered),
        visits=tuple(visits),
        session=session,
        plan=plan,
    )


def _choice(planned: PlannedVisit) -> Choice:
    return Choice(
        picks=planned.picks,
        unserved=tuple(
            NotToday(
                group=missed.group,
                why=" ".join((missed.why, *(change.text for change in missed.changes))),
                until=missed.until,
                would_serve=missed.would_serve,
                source=missed.source,
            )
            for missed in planned.missed
        ),
    )


def _appointment(child: Child, on: date) -> datetime | None:
    if child.appointment is None:
        return None
    return datetime.combine(on, time.fromisoformat(child.appointment)).astimezone()


def _session(
    booked: Sequence[SessionChild],
    on: date,
    shelf: Sequence[Lot],
    hours: Hours,
    weights: Weights | None,
) -> Session:
    """The session's frame: hours around the appointments where none are given."""
    times = [child.at for child in booked if child.at is not None]
    start = datetime.combine(on, hours.start or MORNING[0]).astimezone()
    end = datetime.combine(on, hours.end or MORNING[1]).astimezone()
    if hours.start is None and times:
        start = min(start, *times)
    if hours.end is None and times:
        end = max(end, max(times) + AFTER_LAST)
    return prepare(
        booked,
        shelf,
        start,
        end,
        # As many as there are children: not limited.
        vaccinators=max(len(booked), 1) if hours.vaccinators is None else hours.vaccinators,
        weights=weights,
    )
