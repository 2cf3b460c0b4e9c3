"""Whether a lot may be used on a day and hour, and if not, why not."""

from __future__ import annotations

from datetime import UTC, date, datetime, tzinfo

from traywise.shelf.clock import end_of, start_of, to_instant
from traywise.shelf.discard import discard_time
from traywise.shelf.lot import Lot


def why_not_usable(
    lot: Lot, on: date, now: datetime | None = None, zone: tzinfo | None = None
) -> str | None:
    """None when the lot may be used, else the reason in a few words.

    on    the day of use
    now   the instant of use where it is known; without it an opened vial must last the day
    """
    if lot.held:
        return lot.held
    if lot.doses < 1:
        return "empty"
    if lot.expires is None:
        return "its expiry date is not recorded"
    if lot.expires < on:
        return f"expired on {lot.expires.isoformat()}"
    if lot.product is None:
        return f"CVX {lot.cvx} is no product that can be given"
    return _why_vial_is_over(lot, on, now, zone)


def ends_at(lot: Lot, zone: tzinfo | None = None) -> datetime | None:
    """The first instant at which the lot may not be used any more; None when unknown."""
    if lot.expires is None:
        return None
    ends = [end_of(lot.expires, zone)]
    if lot.opened_at is not None and lot.product is not None:
        ends.append(
            discard_time(lot.product, lot.presentation, lot.opened_at, lot.expires, zone=zone).at
        )
    if lot.discard_at is not None:
        ends.append(to_instant(lot.discard_at, zone))
    return min(ends, key=lambda end: end.astimezone(UTC))


def last_day(lot: Lot, zone: tzinfo | None = None) -> date | None:
    """The last day of use: of an opened vial the day its time ends; None when unknown."""
    if not lot.opened:
        return lot.expires
    ends = ends_at(lot, zone)
    return None if ends is None else ends.date()


def _why_vial_is_over(lot: Lot, on: date, now: datetime | None, zone: tzinfo | None) -> str | None:
    if lot.opened_at is None and lot.discard_at is None:
        return None
    ends = ends_at(lot, zone)
    if ends is None:
        return None
    if now is not None:
        over = to_instant(now, zone).astimezone(UTC) >= ends.astimezone(UTC)
        return f"past its discard time, {_clock(ends)}" if over else None
    if ends.astimezone(UTC) <= start_of(on, zone).astimezone(UTC):
        return f"past its discard time, {_clock(ends)}"
    if lot.expires is not None and lot.expires > on and ends.astimezone(UTC) < end_of(on, zone):
        return f"its discard time, {_clock(ends)}, falls on this day: say the hour of use"
    return None


def _clock(value: datetime) -> str:
    return value.strftime("%Y-%m-%d %H:%M")
