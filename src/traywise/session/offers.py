"""What each child of a session could get, and from where: the same rules as the single tray.

A *supply* is what doses are drawn from: a lot of single doses, an opened vial, or the
vials of a multi-dose lot that are opened in one stretch of the session. A vial that
keeps less long than the session is opened for one stretch only, so that nothing passes
its time: the session is cut into stretches of the keeping time.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec

from traywise.rulebook.same_day import same_day_pairs
from traywise.session.request import Session
from traywise.shelf.discard import discard_time, keeping_minutes
from traywise.shelf.lot import Lot
from traywise.shelf.usable import ends_at, why_not_usable
from traywise.tray.fit import Serving, fit
from traywise.tray.need import Need
from traywise.tray.products import funding_allows


class Supply(msgspec.Struct, frozen=True, kw_only=True):
    """A source of doses.

    lot         index in the session's shelf
    vial        doses in one vial that would be opened; 1: single doses; 0: already opened
    first, last the stretch of use, both instants; last excluded
    """

    lot: int
    vial: int
    first: datetime
    last: datetime


class Offer(msgspec.Struct, frozen=True, kw_only=True):
    """A serving for a child (index) and the supplies it may come from (indices)."""

    child: int
    serving: Serving
    supplies: tuple[int, ...]
    points: int
    compromises: int


class Offers(msgspec.Struct, frozen=True, kw_only=True):
    """All that may be given in a session."""

    supplies: tuple[Supply, ...]
    offers: tuple[Offer, ...]


def offers_of(session: Session) -> Offers:
    """Every offer for every child, and the supplies worth looking at."""
    servings = _servings(session)
    supplies = _worth_it(session, _supplies(session), servings)
    by_product: dict[tuple[str, str], list[int]] = {}
    for number, supply in enumerate(supplies):
        by_product.setdefault(_product(session.shelf[supply.lot]), []).append(number)
    offers = [
        offer
        for child, own in enumerate(servings)
        for product, serving in own.items()
        if (offer := _offer(session, child, serving, supplies, by_product.get(product, [])))
    ]
    return Offers(supplies=tuple(supplies), offers=tuple(offers))


def _product(lot: Lot) -> tuple[str, str]:
    return (lot.product.key if lot.product else "", lot.presentation)


def _servings(session: Session) -> list[dict[tuple[str, str], Serving]]:
    """What the rules allow each child, by product and presentation of the shelf."""
    products = {_product(lot): lot.product for lot in session.shelf if lot.product is not None}
    return [
        {
            key: serving
            for key, vaccine in products.items()
            if isinstance(serving := fit(child.need, vaccine, key[1]), Serving)
        }
        for child in session.children
    ]


def _worth_it(
    session: Session, supplies: list[Supply], servings: list[dict[tuple[str, str], Serving]]
) -> list[Supply]:
    """Without single-dose lots that end after enough doses of the same product and funding.

    Of two such lots the one that ends sooner, then the cheaper one, is always used first,
    so that a shelf of thousands of lots is searched as quickly as one of a hundred.
    """
    wanted: dict[tuple[str, str], int] = {}
    for own in servings:
        for key, serving in own.items():
            wanted[key] = wanted.get(key, 0) + serving.injections
    most = {key: max(own[key].injections for own in servings if key in own) for key in wanted}

    def order(supply: Supply) -> tuple[object, ...]:
        lot = session.shelf[supply.lot]
        return (lot.expires, lot.cost is None, lot.cost or 0, supply.lot)

    gathered: dict[tuple[str, str, str], int] = {}
    kept = {id(supply) for supply in supplies if supply.vial != 1}
    for supply in sorted((s for s in supplies if s.vial == 1), key=order):
        lot = session.shelf[supply.lot]
        key = _product(lot)
        pool = (*key, lot.funding)
        if gathered.get(pool, 0) < wanted.get(key, 0):
            kept.add(id(supply))
            # A dose left over in a lot does not help a child who needs two of one lot.
            gathered[pool] = gathered.get(pool, 0) + lot.doses // most[key] * most[key]
    return [
        supply
        for supply in supplies
        if id(supply) in kept and _product(session.shelf[supply.lot]) in wanted
    ]


def compromises_of(need: Need, serving: Serving) -> int:
    """What is not as it should be, in the order of the single tray, as one number."""
    against = sum(
        pair.second in serving.groups and pair.first in need.wanted for pair in same_day_pairs()
    )
    # Each rank outweighs all of the next that one child could collect.
    return against * 10_000 + bool(serving.leaves_line) * 100 + serving.vaccine.second_choice


def _offer(
    session: Session, child: int, serving: Serving, supplies: list[Supply], numbers: list[int]
) -> Offer | None:
    """The serving for the child from the supplies it may have; None when there is none."""
    one, at = session.children[child], session.times[child]
    eligible = tuple(
        number for number in numbers if _may_serve(session, one.need, serving, supplies[number], at)
    )
    if not eligible:
        return None
    return Offer(
        child=child,
        serving=serving,
        supplies=eligible,
        points=sum(
            session.weights.of_dose(one.need.wanted[group], session.on, one.back)
            for group in serving.groups
        ),
        compromises=compromises_of(one.need, serving),
    )


def _may_serve(
    session: Session, need: Need, serving: Serving, supply: Supply, at: datetime
) -> bool:
    lot = session.shelf[supply.lot]
    if not funding_allows(need.funding, lot.funding) or lot.doses < serving.injections:
        return False
    moment = at.astimezone(UTC)
    if not supply.first.astimezone(UTC) <= moment < supply.last.astimezone(UTC):
        return False
    return supply.vial != 0 or why_not_usable(lot, session.on, _latest_use(session, at)) is None


def _latest_use(session: Session, at: datetime) -> datetime:
    """An opened vial must last a little beyond the appointment."""
    return (at.astimezone(UTC) + timedelta(minutes=session.weights.late_minutes)).astimezone(
        at.tzinfo
    )


def _supplies(session: Session) -> list[Supply]:
    found: list[Supply] = []
    for number, lot in enumerate(session.shelf):
        if why_not_usable(lot, session.on, session.start, session.zone) is not None:
            continue
        if lot.opened:
            end = ends_at(lot, session.zone) or session.end
            found.append(Supply(lot=number, vial=0, first=session.start, last=end))
        elif lot.vial_doses == 1:
            found.append(Supply(lot=number, vial=1, first=session.start, last=session.end))
        else:
            found += _vial_supplies(session, number, lot)
    return found


def _vial_supplies(session: Session, number: int, lot: Lot) -> list[Supply]:
    """One supply for each stretch in which a vial opened at its beginning keeps to its end."""
    product, stretches = lot.product, []
    if product is None or lot.expires is None:
        return []
    first = session.start
    late = timedelta(minutes=session.weights.late_minutes)
    while first.astimezone(UTC) < session.end.astimezone(UTC):
        kept = discard_time(product, lot.presentation, first, lot.expires, zone=session.zone).at
        if keeping_minutes(product, lot.presentation) is None:
            last = session.end
        else:
            # The last child of a stretch may be late, and the vial must still last.
            last = (kept.astimezone(UTC) - late).astimezone(first.tzinfo)
            if last.astimezone(UTC) <= first.astimezone(UTC):
                break
        last = min(last, session.end, key=lambda moment: moment.astimezone(UTC))
        stretches.append(Supply(lot=number, vial=lot.vial_doses, first=first, last=last))
        first = last
    return stretches
