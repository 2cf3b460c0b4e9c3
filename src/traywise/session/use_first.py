"""For whom doses that end soon could be used: children who are due before the lot ends.

Schedule, screening and rules of the products are those of the tray, on the day each child is
due. Every lot is asked for itself: a child may stand at two lots, and what one visit gives is
not taken into account for the next.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, tzinfo

import msgspec

from traywise.record.child import Child
from traywise.schedule.assess import assess
from traywise.session.roster import assess_child
from traywise.shelf.lot import Lot
from traywise.shelf.usable import last_day, why_not_usable
from traywise.tray.compose import candidates
from traywise.tray.fit import Serving, fit
from traywise.tray.need import Need
from traywise.tray.products import funding_allows


class CouldUse(msgspec.Struct, frozen=True, kw_only=True):
    """A child who could have a dose of a lot on a day on which it is due.

    funding  of the child, "" where the record names none: then any stock is thought to do
    """

    id: str
    name: str | None
    day: date
    groups: tuple[str, ...]
    funding: str


def could_use(
    children: Sequence[Child],
    lots: Sequence[Lot],
    on: date,
    edition: str = "us-2025",
    zone: tzinfo | None = None,
) -> list[tuple[CouldUse, ...]]:
    """For each lot the children who could have a dose of it, the earliest due first.

    lots  those asked about; a lot without a last day finds nobody
    on    from this day on; children born later are left out
    """
    ends = [last_day(lot, zone) for lot in lots]
    last = max((end for end in ends if end is not None), default=on)
    found: list[list[CouldUse]] = [[] for _ in lots]
    products = candidates(lots)
    for child in children:
        if child.born > on:
            continue
        open_lots = set(range(len(lots)))
        for day in _days_due(child, on, last, edition):
            need = assess_child(child, day, edition, products=products).need
            for place in sorted(open_lots):
                groups = _groups_of(need, lots[place], zone)
                if groups:
                    found[place].append(_entry(child, need, groups))
                    open_lots.remove(place)
    return [tuple(sorted(own, key=lambda one: (one.day, one.id))) for own in found]


def _days_due(child: Child, on: date, last: date, edition: str) -> Iterator[date]:
    """Today when something is due, then each day on which a next dose falls due."""
    groups = assess(child, edition, on).groups.values()
    if any(one.status in ("due", "overdue") for one in groups):
        yield on
    ahead = {one.due for one in groups if one.status == "not yet" and one.due is not None}
    yield from sorted(day for day in ahead if on < day <= last)


def _groups_of(need: Need, lot: Lot, zone: tzinfo | None) -> tuple[str, ...]:
    """The due groups that a dose of the lot would serve on that day; empty for none."""
    product = lot.product
    if product is None or not funding_allows(need.funding, lot.funding):
        return ()
    if why_not_usable(lot, need.on, None, zone) is not None:
        return ()
    serving = fit(need, product, lot.presentation)
    if not isinstance(serving, Serving) or serving.injections > lot.doses:
        return ()
    return serving.groups


def _entry(child: Child, need: Need, groups: tuple[str, ...]) -> CouldUse:
    return CouldUse(id=child.id, name=child.name, day=need.on, groups=groups, funding=need.funding)
