"""The visits that children will need over the days ahead, by the schedule, dose after dose.

In: records and the products the clinic stocks. Each child is taken to come on the day the
next dose is due (today, if it is overdue) and to receive what the tray of that day holds;
then the schedule is asked again, until the horizon ends. Who stays away is not decided
here: the forecast of supplies counts that with its own chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import msgspec

from traywise.calendar import next_day
from traywise.record.child import Child, CvxCode, DoseGiven
from traywise.schedule.answer import Answer
from traywise.schedule.assess import assess
from traywise.session.needles import Visit, visit_of_places
from traywise.shelf.lot import Lot
from traywise.tray.compose import compose_tray
from traywise.tray.plan import Tray

MOST_VISITS = 12  # a child vaccinated every month of a year


def visits_ahead(
    children: Sequence[Child], stocked: Sequence[Lot], start: date, end: date, edition: str
) -> list[tuple[date, Visit]]:
    """Dated visits of all children from ``start`` to ``end``, both days included.

    stocked  lots that stand for the products kept; their counts and expiry are not asked,
             because a shelf is filled up again
    """
    kept = [_as_kept(lot, end) for lot in stocked if not lot.opened]
    return [visit for child in children for visit in _visits_of(child, kept, start, end, edition)]


def _as_kept(lot: Lot, end: date) -> Lot:
    lasting = max(lot.expires or end, next_day(end, 366))
    return msgspec.structs.replace(lot, expires=lasting, doses=max(lot.doses, 100), held="")


def _visits_of(
    child: Child, kept: Sequence[Lot], start: date, end: date, edition: str
) -> list[tuple[date, Visit]]:
    visits: list[tuple[date, Visit]] = []
    day: date | None = next_due(assess(child, edition, start), start)
    while day is not None and day <= end and len(visits) < MOST_VISITS:
        tray = compose_tray(child, day, kept, None, edition).tray
        if tray.tray:
            visits.append((day, visit_of_tray(tray)))
            child = _after(child, day, tray)
        # What was not given today is not asked for again the next morning.
        day = next_due(assess(child, edition, day), day, later=True)
    return visits


def next_due(answer: Answer, day: date, later: bool = False) -> date | None:
    """The day of the next visit: ``day`` itself when something is due, unless ``later``."""
    ahead = []
    for forecast in answer.groups.values():
        if forecast.status in ("due", "overdue") and not later:
            return day
        if forecast.status == "not yet" and forecast.due is not None and forecast.due > day:
            ahead.append(forecast.due)
    return min(ahead, default=None)


def _after(child: Child, day: date, tray: Tray) -> Child:
    """The child with the tray's doses given; a dose in two injections is one dose."""
    given = {
        (place.vaccine, place.groups): DoseGiven(
            on=day, cvx=CvxCode(place.cvx), route=place.route, site=place.site
        )
        for place in tray.tray
    }
    return msgspec.structs.replace(child, doses=(*child.doses, *given.values()))


def visit_of_tray(tray: Tray) -> Visit:
    """What a tray uses, with its routes."""
    return visit_of_places(tray.supplies, [(place.route, place.needle) for place in tray.tray])
