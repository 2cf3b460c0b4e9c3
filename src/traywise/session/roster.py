"""From the records of a roster to a session, and from its plan back to each child's tray.

Schedule, screening and rules are those of the single tray; only who gets which lot is
decided for all children at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, tzinfo

import msgspec

from traywise.equipment.place import SupplyOnHand
from traywise.equipment.tables import DEFAULT_POLICY
from traywise.errors import Fault
from traywise.record.child import Child
from traywise.rulebook.vaccines import Vaccine, vaccines
from traywise.schedule.answer import Answer
from traywise.schedule.assess import assess
from traywise.screening.screen import screen
from traywise.screening.verdicts import Screening
from traywise.session.plan import Missed, SessionPlan
from traywise.session.request import Return, Session, SessionChild, Weights, prepare
from traywise.session.supplies_left import take_supplies
from traywise.shelf.clock import to_instant
from traywise.shelf.lot import Lot
from traywise.tray.blocks import blocks_of
from traywise.tray.compose import Visit, compose_from, due_groups
from traywise.tray.need import Need, need_of
from traywise.tray.plan import NotToday
from traywise.tray.products import Choice

BACK_ANSWER = "comes-back"
"""Key among a child's answers: "hard" or "unlikely" to come back soon."""


class Assessed(msgspec.Struct, frozen=True, kw_only=True):
    """A child of the roster with what schedule and screening say of the day."""

    child: Child
    answer: Answer
    screening: Screening
    need: Need
    asked: frozenset[str] = frozenset()


def assess_child(
    child: Child,
    on: date,
    edition: str = "us-2025",
    asked: frozenset[str] = frozenset(),
    funding: str | None = None,
    products: Sequence[Vaccine] | None = None,
) -> Assessed:
    """Schedule and screening of one child.

    products  those in view, such as the shelf's; None: every product of the rulebook
    """
    answer = assess(child, edition, on)
    seen = tuple(vaccines().values()) if products is None else tuple(products)
    screening = screen(child, on, due_groups(answer, asked), seen)
    need = need_of(child, on, answer, blocks_of(screening.findings), funding, asked)
    return Assessed(child=child, answer=answer, screening=screening, need=need, asked=asked)


def session_of(
    roster: Sequence[Assessed],
    shelf: Sequence[Lot] | None,
    start: datetime,
    end: datetime,
    *,
    vaccinators: int = 1,
    weights: Weights | None = None,
    zone: tzinfo | None = None,
    next_session: date | None = None,
) -> Session:
    """The session of a roster; raises InputError when hours or roster cannot be.

    Appointments are those of the records ("09:20"); how hard it is to come back is the
    answer ``comes-back`` of the record: hard, unlikely.
    """
    children = [
        SessionChild(need=one.need, at=_appointment(one.child, start, zone), back=_back(one.child))
        for one in roster
    ]
    return prepare(
        children,
        shelf,
        start,
        end,
        vaccinators=vaccinators,
        weights=weights,
        zone=zone,
        next_session=next_session,
    )


def outside_hours(
    roster: Sequence[Child], start: datetime, end: datetime, zone: tzinfo | None = None
) -> tuple[Fault, ...]:
    """Appointments that lie outside the session, for a reader who wants to be told first."""
    faults = []
    for child in roster:
        at = _appointment(child, start, zone)
        if at is not None and not to_instant(start, zone) <= at < to_instant(end, zone):
            text = f"The appointment {child.appointment} lies outside the session."
            faults.append(Fault("session.E005", f"child {child.id}", text))
    return tuple(faults)


def _appointment(child: Child, start: datetime, zone: tzinfo | None) -> datetime | None:
    if child.appointment is None:
        return None
    hour, minute = child.appointment.split(":")
    local = to_instant(start, zone)
    return to_instant(
        datetime(local.year, local.month, local.day, int(hour), int(minute)),  # noqa: DTZ001
        zone,
    )


def _back(child: Child) -> Return:
    said = child.answers.get(BACK_ANSWER)
    if said == "hard":
        return "hard"
    return "unlikely" if said == "unlikely" else ""


def visits_of(
    roster: Sequence[Assessed],
    plan: SessionPlan,
    supplies: Sequence[SupplyOnHand] | None = None,
    policy: str = DEFAULT_POLICY,
) -> dict[str, Visit]:
    """The composed tray of every child, by id, in the order of the plan.

    Needles and syringes that one tray takes are gone for the next.
    """
    by_id = {one.child.id: one for one in roster}
    left = supplies
    found = {}
    for planned in plan.visits:
        one = by_id[planned.child]
        choice = Choice(
            picks=planned.picks, unserved=tuple(_not_today(missed) for missed in planned.missed)
        )
        visit = compose_from(
            one.child, plan.on, one.answer, one.screening, choice, left, policy, one.asked
        )
        left = take_supplies(left, visit.tray.supplies)
        found[one.child.id] = visit
    return found


def _not_today(missed: Missed) -> NotToday:
    return NotToday(
        group=missed.group,
        why=" ".join((missed.why, *(change.text for change in missed.changes))),
        until=missed.until,
        would_serve=missed.would_serve,
        source=missed.source,
    )
