"""Six-digit GS1 dates: century by distance from today, day 00 for the end of the month."""

from __future__ import annotations

from calendar import monthrange
from datetime import date


def read_gs1_date(digits: str, today: date) -> date | None:
    """The day, None when there is no such day.

    today   decides the century: at most 50 years ahead, 49 back
    source  GS1 General Specifications 7.12, from memory; day 00: GS1 change notice 21-040

    >>> str(read_gs1_date("280200", date(2026, 11, 24)))
    '2028-02-29'
    """
    if len(digits) != 6 or not (digits.isascii() and digits.isdecimal()):
        return None
    two, month, day = int(digits[:2]), int(digits[2:4]), int(digits[4:])
    distance = two - today.year % 100
    century = today.year // 100 + (-1 if distance > 50 else 1 if distance < -49 else 0)
    year = century * 100 + two
    if not 1 <= month <= 12:
        return None
    last = monthrange(year, month)[1]
    return date(year, month, day or last) if day <= last else None


def write_gs1_date(day: date) -> str:
    """Six digits, with the real day.

    >>> write_gs1_date(date(2028, 2, 29))
    '280229'
    """
    return day.strftime("%y%m%d")
