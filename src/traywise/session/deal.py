"""From the program's numbers to each child's picks: which lot for whom."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC

from traywise.session.model import Model
from traywise.session.offers import Offers
from traywise.session.request import Session
from traywise.tray.products import Pick, pick_from

Picks = tuple[Pick, ...]


def deal(session: Session, offers: Offers, model: Model, values: Sequence[int]) -> list[Picks]:
    """The picks of each child, in the order of the session.

    Within a kind the lots are dealt out in the order of the appointments; an opened vial
    and what ends first go first.
    """
    picks: list[list[Pick]] = [[] for _ in session.children]
    drawn: dict[tuple[int, ...], list[tuple[int, int]]] = {}
    for column, (members, supply) in model.draws.items():
        if values[column]:
            drawn.setdefault(members, []).append((supply, values[column]))
    for members, sources in drawn.items():
        sources.sort(key=lambda source: _first_use(session, offers, source[0]))
        lots = [supply for supply, count in sources for _ in range(count)]
        given = [number for number in members if values[model.give[number]]]
        given.sort(key=lambda number: offers.offers[number].child)
        for number, supply in zip(given, lots, strict=True):
            offer = offers.offers[number]
            lot = session.shelf[offers.supplies[supply].lot]
            picks[offer.child].append(pick_from(offer.serving, lot))
    return [tuple(sorted(own, key=lambda pick: pick.groups)) for own in picks]


def _first_use(session: Session, offers: Offers, supply: int) -> tuple[object, ...]:
    source = offers.supplies[supply]
    lot = session.shelf[source.lot]
    return (source.vial != 0, source.last.astimezone(UTC), lot.expires, lot.key)
