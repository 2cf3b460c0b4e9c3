"""Why a child misses a due dose in the session, and what would change it."""

from __future__ import annotations

from collections.abc import Sequence

from traywise.rulebook.vaccines import vaccines
from traywise.session.deal import Picks
from traywise.session.offers import Offer, Offers
from traywise.session.plan import Change, Missed
from traywise.session.request import Session
from traywise.shelf.lot import Lot
from traywise.shelf.usable import why_not_usable
from traywise.tray.fit import Serving, fit
from traywise.tray.need import Need
from traywise.tray.products import funding_allows
from traywise.tray.unserved import explain_unserved, would_serve


def missed_of(session: Session, offers: Offers, picks: Sequence[Picks]) -> list[tuple[Missed, ...]]:
    """What each child misses, in the order of the session."""
    left = doses_left(session, picks)
    by_child: dict[int, list[Offer]] = {}
    for offer in offers.offers:
        by_child.setdefault(offer.child, []).append(offer)
    found = []
    for number, own in enumerate(picks):
        need = session.children[number].need
        covered = {group for pick in own for group in pick.groups}
        found.append(
            tuple(
                _missed(session, number, group, by_child.get(number, []), offers, own, left)
                for group in need.wanted
                if group not in covered
            )
        )
    return found


def doses_left(session: Session, picks: Sequence[Picks]) -> dict[tuple[str, ...], int]:
    """Doses that remain of each lot after the session."""
    left: dict[tuple[str, ...], int] = {lot.key: lot.doses for lot in session.shelf}
    for own in picks:
        for pick in own:
            left[pick.lot.key] -= pick.injections
    return left


def _missed(
    session: Session,
    number: int,
    group: str,
    own_offers: list[Offer],
    offers: Offers,
    picks: Picks,
    left: dict[tuple[str, ...], int],
) -> Missed:
    need = session.children[number].need
    serve = would_serve(need, group)
    possible = [offer for offer in own_offers if group in offer.serving.groups]
    if not possible:
        (reason,) = explain_unserved(
            need,
            (group,),
            session.shelf if session.shelf_known else None,
            session.times[number],
            session.zone,
            given=frozenset(group for pick in picks for group in (*pick.groups, *pick.extra)),
        )
        other = _changes(session, need, group, serve, left, blocked=not serve)
        if reason.until is not None:
            text = f"book again from {reason.until.isoformat()}"
            other = (Change(kind="reschedule", text=text, until=reason.until), *other)
        return Missed(
            group=group,
            why=reason.why,
            until=reason.until,
            would_serve=serve,
            changes=other,
            source=reason.source,
        )
    at_hand = [
        offer
        for offer in possible
        if any(
            left[session.shelf[offers.supplies[s].lot].key] >= offer.serving.injections
            for s in offer.supplies
        )
    ]
    names = " or ".join(sorted({offer.serving.vaccine.name for offer in at_hand or possible}))
    if at_hand and not picks:
        why = "no vaccinator's time is left for this child"
        changes: tuple[Change, ...] = (
            Change(kind="vaccinator", text="one vaccinator more, or a longer session"),
        )
    elif at_hand:
        why = f"{names} would give a group twice, or at the cost of more doses elsewhere"
        changes = ()
    else:
        why = f"all doses of {names} go to children who need them more or come first"
        changes = ()
    changes += _changes(session, need, group, serve, left, blocked=bool(at_hand))
    return Missed(group=group, why=why, would_serve=serve, changes=changes)


def _changes(
    session: Session,
    need: Need,
    group: str,
    serve: tuple[str, ...],
    left: dict[tuple[str, ...], int],
    *,
    blocked: bool,
) -> tuple[Change, ...]:
    """Borrow, order, reschedule: nothing of it when stock is not what is missing, or not known."""
    if blocked or not session.shelf_known:
        return ()
    changes = []
    lender = _lender(session, need, group, left)
    if lender is not None and lender.product is not None:
        text = (
            f"borrow a dose of {lender.product.name}, lot {lender.lot}, from {lender.funding} "
            "stock where your programme allows it; record it and repay it"
        )
        changes.append(Change(kind="borrow", text=text))
    if serve:
        names = " or ".join(vaccines()[key].name for key in serve)
        changes.append(Change(kind="order", text=f"order {names}"))
    if session.next_session is not None:
        day = session.next_session.isoformat()
        changes.append(
            Change(kind="reschedule", text=f"book for {day}", until=session.next_session)
        )
    return tuple(changes)


def _lender(
    session: Session, need: Need, group: str, left: dict[tuple[str, ...], int]
) -> Lot | None:
    """A lot of another funding source that would serve and has doses over."""
    for lot in sorted(session.shelf, key=lambda lot: (lot.expires is None, lot.expires, lot.key)):
        if lot.product is None or group not in lot.product.groups:
            continue
        if funding_allows(need.funding, lot.funding) or left[lot.key] < 1:
            continue
        if why_not_usable(lot, session.on, session.end, session.zone) is None and isinstance(
            fit(need, lot.product, lot.presentation), Serving
        ):
            return lot
    return None
