"""The shelf at a glance on one day: the state of each lot, and doses by vaccine and funding.

In come lots; out goes, for each, whether it may be used, how long still, and why not. Which
child could have a dose is not asked here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta, tzinfo

import msgspec

from traywise.shelf.lot import Lot
from traywise.shelf.usable import ends_at, last_day, why_not_usable

USABLE, OPENED, SOON, EXPIRED, HELD, EMPTY = (
    *("usable", "opened", "ends soon", "expired", "not to be used", "empty"),
)
STATES = (USABLE, OPENED, SOON, EXPIRED, HELD, EMPTY)


class LotState(msgspec.Struct, frozen=True, kw_only=True):
    """A lot on a day.

    state     one of STATES; "opened" and "ends soon" may be used
    soon      it may be used and ends within the days asked for, an opened vial too
    why       why it may not be used; "" when it may
    last_day  last day of use; None: not known
    ends_at   the first instant at which it may not be used any more, where known
    """

    lot: Lot
    state: str
    soon: bool
    why: str
    last_day: date | None
    ends_at: datetime | None


class DosesAtHand(msgspec.Struct, frozen=True, kw_only=True):
    """Doses of one product and one funding source ("" is any).

    usable  may be given; soon: of these, in lots that end within the days asked for
    lost    in lots that may not be used
    """

    vaccine: str
    name: str
    funding: str
    usable: int
    soon: int
    lost: int


def look_over(
    lots: Sequence[Lot],
    on: date,
    within_days: int,
    now: datetime | None = None,
    zone: tzinfo | None = None,
) -> tuple[LotState, ...]:
    """Each lot in its state, what ends soonest first.

    within_days  a lot whose last day is so many days ahead, or fewer, ends soon
    now          instant of use, for opened vials; None: they must last the day
    """
    limit = on + timedelta(days=within_days)
    states = [_state_of(lot, on, limit, now, zone) for lot in lots]
    return tuple(sorted(states, key=lambda one: (one.last_day or date.max, one.lot.key)))


def _state_of(
    lot: Lot, on: date, limit: date, now: datetime | None, zone: tzinfo | None
) -> LotState:
    why = why_not_usable(lot, on, now, zone)
    last = last_day(lot, zone)
    soon = why is None and last is not None and last <= limit
    if why is not None:
        gone = lot.expires is not None and lot.expires < on
        state = EXPIRED if gone else EMPTY if lot.doses < 1 and not lot.held else HELD
    else:
        state = OPENED if lot.opened else SOON if soon else USABLE
    return LotState(
        lot=lot, state=state, soon=soon, why=why or "", last_day=last, ends_at=ends_at(lot, zone)
    )


def doses_at_hand(states: Iterable[LotState]) -> tuple[DosesAtHand, ...]:
    """Doses by product and funding, in the order of the names."""
    counts: dict[tuple[str, str, str], list[int]] = {}
    for one in states:
        product = one.lot.product
        key = (product.name if product else one.lot.cvx, product.key if product else "")
        sums = counts.setdefault((*key, one.lot.funding), [0, 0, 0])
        sums[2 if one.why else 0] += one.lot.doses
        sums[1] += one.lot.doses if one.soon else 0
    return tuple(
        DosesAtHand(vaccine=key, name=name, funding=funding, usable=n, soon=soon, lost=lost)
        for (name, key, funding), (n, soon, lost) in sorted(counts.items())
    )
