"""Times of the clinic's clock, with and without an offset, also on the days the clock changes.

A time without offset is the clinic's own. Where the clock shows it twice (autumn) or
not at all (spring), the earlier instant is taken: an opened vial is then thrown away
too soon rather than too late.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, tzinfo


def to_instant(value: datetime, zone: tzinfo | None = None) -> datetime:
    """An aware time in the clinic's zone (None: the computer's own)."""
    if value.tzinfo is not None:
        return value.astimezone(zone)
    return min(_both_readings(value, zone), key=lambda instant: instant.astimezone(UTC))


def is_unclear(value: datetime, zone: tzinfo | None = None) -> bool:
    """Whether a time without offset stands twice on that day's clock, or not at all."""
    if value.tzinfo is not None:
        return False
    first, second = _both_readings(value, zone)
    return first.astimezone(UTC) != second.astimezone(UTC)


def _both_readings(value: datetime, zone: tzinfo | None) -> tuple[datetime, datetime]:
    def read(fold: int) -> datetime:
        local = value.replace(fold=fold)
        if zone is None:
            return local.astimezone()
        return local.replace(tzinfo=zone).astimezone(UTC).astimezone(zone)

    return read(0), read(1)


def start_of(day: date, zone: tzinfo | None = None) -> datetime:
    """The first instant of a day on the clinic's clock."""
    return to_instant(datetime.combine(day, time.min), zone)


def end_of(day: date, zone: tzinfo | None = None) -> datetime:
    """The first instant after a day on the clinic's clock."""
    return start_of(date.fromordinal(day.toordinal() + 1), zone)
