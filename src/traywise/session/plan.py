"""The plan of a session as data: who gets what, what to fetch, when to mix, what is left."""

from __future__ import annotations

from datetime import date, datetime

import msgspec

from traywise.session.solve import StageResult
from traywise.tray.products import Pick


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """What would let a child have a dose it misses: borrow, order, reschedule, vaccinator."""

    kind: str
    text: str
    until: date | None = None


class Missed(msgspec.Struct, frozen=True, kw_only=True):
    """A due group a child does not get in this session: why, and what would change it."""

    group: str
    why: str
    until: date | None = None
    would_serve: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()
    source: str = ""


class Visit(msgspec.Struct, frozen=True, kw_only=True):
    """One child of the session, in the order of the appointments."""

    child: str
    name: str | None
    at: datetime
    minutes: int
    picks: tuple[Pick, ...] = ()
    missed: tuple[Missed, ...] = ()


class PickLine(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the pick list: what to take from which unit.

    doses  to be given; containers: syringes, tubes or vials to take out
    """

    unit: str
    lot: str
    cvx: str
    vaccine: str
    name: str
    presentation: str
    funding: str
    expires: date | None
    doses: int
    containers: int
    diluent: str = ""


class Step(msgspec.Struct, frozen=True, kw_only=True):
    """One step of the draw-up timeline: mix or open at ``at``, use before ``use_by``.

    doses  that come from it, children for whom (ids)
    """

    at: datetime
    what: str  # mix, open, go on
    lot: str
    vaccine: str
    unit: str
    use_by: datetime
    doses: int
    children: tuple[str, ...]
    left: int = 0  # doses still in the vial afterwards


class Unused(msgspec.Struct, frozen=True, kw_only=True):
    """Doses that stay: in an opened vial, or in a lot that expires soon."""

    lot: str
    vaccine: str
    unit: str
    doses: int
    ends: datetime | date
    why: str


class Reorder(msgspec.Struct, frozen=True, kw_only=True):
    """A product to order: doses left after the session, doses that were missing, doses to order."""

    vaccine: str
    name: str
    left: int
    missing: int
    order: int
    why: str


class SessionPlan(msgspec.Struct, frozen=True, kw_only=True):
    """The whole plan.

    stages    value and bound of every stage, in their order
    proven    the optimum of every stage is proven; else ``gap`` is the largest one left
    seconds   time the search took
    finish    when the last visit ends, every vaccinator taking the next child in order
    """

    on: date
    start: datetime
    end: datetime
    vaccinators: int
    visits: tuple[Visit, ...] = ()
    pick_list: tuple[PickLine, ...] = ()
    timeline: tuple[Step, ...] = ()
    leftovers: tuple[Unused, ...] = ()
    expiring: tuple[Unused, ...] = ()
    reorder: tuple[Reorder, ...] = ()
    stages: tuple[StageResult, ...] = ()
    one_by_one: dict[str, int] = {}
    proven: bool = True
    gap: float = 0.0
    seconds: float = 0.0
    finish: datetime | None = None

    @property
    def doses(self) -> int:
        """Due groups covered, over all children."""
        return sum(len(pick.groups) for visit in self.visits for pick in visit.picks)

    @property
    def injections(self) -> int:
        """Places over all trays, oral and nasal ones included."""
        return sum(pick.injections for visit in self.visits for pick in visit.picks)

    @property
    def missed(self) -> int:
        """Due groups not covered."""
        return sum(len(visit.missed) for visit in self.visits)
