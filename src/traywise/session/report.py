"""What the clinic fetches, what expires unused and what to order after a planned session."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from math import ceil

from traywise.rulebook.stock import indicative_wastage
from traywise.rulebook.vaccines import vaccines
from traywise.session.deal import Picks
from traywise.session.missed import doses_left
from traywise.session.plan import Missed, PickLine, Reorder, Step, Unused
from traywise.session.request import Session
from traywise.shelf.discard import is_mixed
from traywise.shelf.lot import Lot
from traywise.shelf.reorder import StockLevels, order_doses, wastage_factor, whole_vials
from traywise.shelf.usable import why_not_usable


def pick_list_of(
    session: Session, picks: Sequence[Picks], timeline: Sequence[Step]
) -> tuple[PickLine, ...]:
    """Unit by unit, the product names in order within each; opened vials first."""
    doses: dict[tuple[str, ...], int] = {}
    for own in picks:
        for pick in own:
            doses[pick.lot.key] = doses.get(pick.lot.key, 0) + pick.injections
    lots = [lot for lot in session.shelf if lot.key in doses]
    lots.sort(key=lambda lot: (lot.unit, _name(lot), not lot.opened, lot.expires, lot.key))
    return tuple(
        PickLine(
            unit=lot.unit,
            lot=lot.lot,
            cvx=lot.cvx,
            vaccine=lot.product.key if lot.product else "",
            name=_name(lot),
            presentation=lot.presentation,
            funding=lot.funding,
            expires=lot.expires,
            doses=doses[lot.key],
            containers=_containers(lot, doses[lot.key], timeline),
            diluent=_diluent(lot),
        )
        for lot in lots
    )


def _name(lot: Lot) -> str:
    return lot.product.name if lot.product else lot.cvx


def _containers(lot: Lot, doses: int, timeline: Sequence[Step]) -> int:
    if lot.opened:
        return 1
    if lot.vial_doses == 1:
        return doses
    return sum(
        step.what == "open" and step.lot == lot.lot and step.unit == lot.unit for step in timeline
    )


def _diluent(lot: Lot) -> str:
    product = lot.product
    if product is None or product.diluent is None or lot.opened:
        return ""
    return product.diluent.name if is_mixed(product, lot.presentation) else ""


def expiring_of(session: Session, picks: Sequence[Picks]) -> tuple[Unused, ...]:
    """Doses left after the session in lots that expire within the days of the table."""
    left = doses_left(session, picks)
    last = session.on + timedelta(days=session.weights.expiring_days)
    lots = [
        lot
        for lot in session.shelf
        if left[lot.key] > 0
        and lot.expires is not None
        and lot.expires <= last
        and why_not_usable(lot, session.on, session.start, session.zone) is None
    ]
    lots.sort(key=lambda lot: (lot.expires, lot.key))
    return tuple(
        Unused(
            lot=lot.lot,
            vaccine=lot.product.key if lot.product else "",
            unit=lot.unit,
            doses=left[lot.key],
            ends=lot.expires,
            why="expires soon and is not needed in this session",
        )
        for lot in lots
        if lot.expires is not None
    )


def reorder_of(
    session: Session,
    picks: Sequence[Picks],
    missed: Sequence[Sequence[Missed]],
    levels: Mapping[str, StockLevels] | None = None,
) -> tuple[Reorder, ...]:
    """What to order: what was missing, and products that fall to their reorder level.

    A missed dose is counted for the product that most of the children who miss it could
    have, so that one order serves them all.
    """
    left = doses_left(session, picks)
    stock: dict[str, int] = {}
    for lot in session.shelf:
        usable = why_not_usable(lot, session.on, session.start, session.zone) is None
        if lot.product is not None and usable:
            stock[lot.product.key] = stock.get(lot.product.key, 0) + left[lot.key]
    missing = _missing(missed)
    found = []
    for key in sorted({*missing, *(levels or {})}):
        vaccine, in_hand = vaccines()[key], stock.get(key, 0)
        size = vaccine.multidose_doses or 1
        figure = indicative_wastage(size, powder=vaccine.diluent is not None)
        factor = wastage_factor(figure.share) if figure else 1.0
        lacking = whole_vials(ceil(missing.get(key, 0) * factor), size) * size
        level = (levels or {}).get(key)
        regular = order_doses(level, in_hand, vial_doses=size) if level else 0
        if lacking or regular:
            found.append(
                Reorder(
                    vaccine=key,
                    name=vaccine.name,
                    left=in_hand,
                    missing=missing.get(key, 0),
                    order=max(lacking, regular),
                    why="missing in this session" if lacking >= regular else "at its reorder level",
                )
            )
    return tuple(found)


def _missing(missed: Sequence[Sequence[Missed]]) -> dict[str, int]:
    lacking = [entry for own in missed for entry in own if _is_lack_of_stock(entry)]
    votes: dict[tuple[str, str], int] = {}
    for entry in lacking:
        for key in entry.would_serve:
            votes[entry.group, key] = votes.get((entry.group, key), 0) + 1
    found: dict[str, int] = {}
    for entry in lacking:
        # The plainest product among those that serve most: fewest groups, then table order.
        best = min(
            entry.would_serve,
            key=lambda key: (-votes[entry.group, key], len(vaccines()[key].groups)),
        )
        found[best] = found.get(best, 0) + 1
    return found


def _is_lack_of_stock(entry: Missed) -> bool:
    return bool(entry.would_serve) and any(change.kind == "order" for change in entry.changes)


def finish_of(session: Session, picks: Sequence[Picks]) -> datetime | None:
    """When the last visit ends: children in order, each by the vaccinator who is free first."""
    if not session.vaccinators:
        return None
    free = [session.start] * session.vaccinators
    for at, own in zip(session.times, picks, strict=True):
        minutes = session.minutes_of(sum(pick.injections for pick in own))
        if minutes:
            first = min(range(len(free)), key=lambda index: free[index])
            free[first] = max(free[first], at) + timedelta(minutes=minutes)
    return max(free)
