"""A whole session from records and shelf: every child assessed, screened, planned and composed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta

import msgspec

from traywise.equipment.place import SupplyOnHand
from traywise.equipment.tables import DEFAULT_POLICY
from traywise.record.child import Child
from traywise.session.make_plan import plan_session
from traywise.session.plan import SessionPlan
from traywise.session.request import Session, Weights
from traywise.session.roster import Assessed, assess_child, session_of, visits_of
from traywise.shelf.lot import Lot
from traywise.tray.compose import Visit, candidates

MORNING = (time(8, 0), time(12, 0))
AFTER_LAST = timedelta(minutes=60)


class SessionDay(msgspec.Struct, frozen=True, kw_only=True):
    """A planned session.

    children  in the order of the appointments; ``visits`` beside them, one a child
    session   what was planned, kept for "what if" and for the checker
    supplies  needles, syringes and the rest as they were at hand; None: not counted
    notes     what whoever reads the plan must know first, such as a shelf that was not read:
              the fact, a colon, what follows from it
    """

    on: date
    edition: str
    children: tuple[Child, ...]
    visits: tuple[Visit, ...]
    session: Session
    plan: SessionPlan
    supplies: tuple[SupplyOnHand, ...] | None = None
    notes: tuple[str, ...] = ()


class Hours(msgspec.Struct, frozen=True, kw_only=True):
    """When the session runs and who vaccinates; None: taken from the roster, or not limited."""

    start: time | None = None
    end: time | None = None
    vaccinators: int | None = None


def plan_day(
    children: Sequence[Child],
    on: date,
    shelf: Sequence[Lot] | None,
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
    notes: Sequence[str] = (),
) -> SessionDay:
    """All trays of a session; raises InputError when roster and hours do not fit together.

    shelf     None: it could not be read; what is due is told, and nothing is planned
    seconds   for the search of the optimum
    optimise  False: child by child, as a clinic does without a plan
    asked     groups left to the clinician that the clinician decided to give
    notes     what whoever reads the plan must know first
    """
    products = candidates(shelf or ())
    roster = [assess_child(child, on, edition, asked, products=products) for child in children]
    session = _session(roster, on, shelf, hours or Hours(), weights)
    plan = plan_session(session, seconds=seconds, progress=progress, optimise=optimise)
    visits = visits_of(roster, plan, supplies, policy)
    by_id = {child.id: child for child in children}
    return SessionDay(
        on=on,
        edition=roster[0].answer.edition if roster else edition,
        children=tuple(by_id[key] for key in visits),
        visits=tuple(visits.values()),
        session=session,
        plan=plan,
        supplies=None if supplies is None else tuple(supplies),
        notes=tuple(notes),
    )


def _session(
    roster: Sequence[Assessed],
    on: date,
    shelf: Sequence[Lot] | None,
    hours: Hours,
    weights: Weights | None,
) -> Session:
    """The session's frame: hours around the appointments where none are given."""
    times = [
        datetime.combine(on, time.fromisoformat(one.child.appointment)).astimezone()
        for one in roster
        if one.child.appointment is not None
    ]
    start = datetime.combine(on, hours.start or MORNING[0]).astimezone()
    end = datetime.combine(on, hours.end or MORNING[1]).astimezone()
    if hours.start is None and times:
        start = min(start, *times)
    if hours.end is None and times:
        end = max(end, max(times) + AFTER_LAST)
    # As many vaccinators as there are children: not limited.
    count = max(len(roster), 1) if hours.vaccinators is None else hours.vaccinators
    return session_of(roster, shelf, start, end, vaccinators=count, weights=weights)
