"""Days, months, ages and intervals: the only place that adds months.

A *day number* counts days since 1900-01-01, so that it can index the month
table directly and ``-1`` can stand for "no day". Calendar arithmetic is by two
tables (month of each day, first day of each month) that are handed to the pure
functions as arguments: plain Python runs them over arrays, and a compiler may
compile the very same functions.

A *span* is months and days: "14 weeks 6 days" is (0, 104), "9 years 5 months"
is (113, 0). Months are added before days; a day that the target month does not
have becomes the first of the month after it (CDC CDSi Logic Specification, date
rules; from memory).
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Sequence
from datetime import date, timedelta
from functools import cache
from typing import NewType

import msgspec

DayNumber = NewType("DayNumber", int)

NO_DAY = -1
FIRST_YEAR = 1900
LAST_YEAR = 2150
# Days that people may enter: from here every span of a rulebook stays inside the tables.
FIRST_ENTRY_YEAR = 1902
LAST_ENTRY_YEAR = 2110
_ORIGIN = date(FIRST_YEAR, 1, 1).toordinal()


class Span(msgspec.Struct, frozen=True, order=True):
    """A length of time as people write it: calendar months, then days."""

    months: int = 0
    days: int = 0

    def __str__(self) -> str:
        return format_span(self)


def _build_month_tables() -> tuple[array[int], array[int]]:
    month_of, first_of = array("i"), array("i")
    day = month = 0
    for year in range(FIRST_YEAR, LAST_YEAR + 1):
        leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
        for length in (31, 29 if leap else 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31):
            first_of.append(day)
            month_of += array("i", [month]) * length  # every command starts with this
            day, month = day + length, month + 1
    first_of.append(day)
    return month_of, first_of


MONTH_OF, FIRST_OF = _build_month_tables()
LAST_DAY = len(MONTH_OF) - 1


def add_span(
    day: int, months: int, days: int, month_of: Sequence[int], first_of: Sequence[int]
) -> int:
    """Day number of ``day`` plus ``months`` plus ``days``; the tables as arguments."""
    if months != 0:
        month = month_of[day]
        day_of_month = day - first_of[month]
        target = month + months
        day = first_of[target] + day_of_month
        if day > first_of[target + 1]:
            day = first_of[target + 1]
    return day + days


@cache
def days_in_months(months: int) -> tuple[int, int]:
    """Least and most days that adding so many months takes, whatever day it starts from.

    >>> days_in_months(1)
    (25, 31)
    """
    start = (1904 - FIRST_YEAR) * 12
    lengths = [FIRST_OF[month + months] - FIRST_OF[month] for month in range(start, start + 48)]
    # A year 1900 or 2100 has no leap day; a day that the month does not have loses up to two more.
    return min(lengths) - 3, max(lengths)


def day_number(value: date) -> DayNumber:
    """Days since 1900-01-01.

    >>> day_number(date(1900, 1, 2))
    1
    """
    return DayNumber(value.toordinal() - _ORIGIN)


def to_date(day: int) -> date:
    """The calendar date of a day number.

    >>> to_date(day_number(date(2026, 11, 24))).isoformat()
    '2026-11-24'
    """
    return date.fromordinal(day + _ORIGIN)


def add(value: date, span: Span) -> date:
    """A date plus a span.

    >>> add(date(2024, 10, 31), Span(months=1)).isoformat()
    '2024-12-01'
    >>> add(date(2024, 1, 15), Span(days=28)).isoformat()
    '2024-02-12'
    """
    days = add_span(day_number(value), span.months, span.days, MONTH_OF, FIRST_OF)
    return to_date(days)


_UNIT = {"year": (12, 0), "month": (1, 0), "week": (0, 7), "day": (0, 1)}
_PART = re.compile(r"(\d+) (year|month|week|day)s?")


def parse_span(text: str) -> Span:
    """Read "10 weeks", "9 years 5 months", "14 weeks 6 days" or "birth".

    Raises ValueError with the remedy when the text is anything else.

    >>> parse_span("14 weeks 6 days")
    Span(months=0, days=104)
    >>> parse_span("birth")
    Span(months=0, days=0)
    """
    if text == "birth":
        return Span()
    months = days = 0
    position = 0
    while position < len(text):
        part = _PART.match(text, position)
        if part is None:
            break
        per_months, per_days = _UNIT[part[2]]
        months += int(part[1]) * per_months
        days += int(part[1]) * per_days
        position = part.end() + 1
    if not text or position != len(text) + 1:
        raise ValueError(
            f'"{text}" is not a length of time. Write whole numbers and days, weeks, '
            'months or years: "10 weeks", "9 years 5 months".'
        )
    return Span(months, days)


def format_span(span: Span) -> str:
    """The span in the largest fitting units.

    >>> format_span(Span(months=113)), format_span(Span(days=104)), format_span(Span())
    ('9 years 5 months', '14 weeks 6 days', 'birth')
    """
    # The trade says "18 months" but "4 years": years from two on, if nothing is lost.
    years, months = divmod(span.months, 12) if span.months >= 24 else (0, span.months)
    weeks, days = divmod(span.days, 7)
    parts = [
        f"{count} {unit}{'' if count == 1 else 's'}"
        for count, unit in ((years, "year"), (months, "month"), (weeks, "week"), (days, "day"))
        if count
    ]
    return " ".join(parts) or "birth"


class Age(msgspec.Struct, frozen=True):
    """Completed age on a day: months (years times 12 included) and remaining days."""

    months: int
    days: int
    total_days: int

    @property
    def years(self) -> int:
        return self.months // 12

    def __str__(self) -> str:
        return format_age(self)


def age_on(born: date, day: date) -> Age:
    """Completed age; raises ValueError for a day before birth.

    >>> str(age_on(date(2026, 7, 12), date(2026, 11, 24)))
    '4 months 12 days'
    """
    if day < born:
        raise ValueError(f"{day} is before the date of birth {born}")
    months = (day.year - born.year) * 12 + day.month - born.month
    while add(born, Span(months=months)) > day:
        months -= 1
    return Age(months, (day - add(born, Span(months=months))).days, (day - born).days)


def reached(born: date, span: Span, day: date) -> bool:
    """Whether the age ``span`` is reached on ``day`` (the day itself counts).

    >>> reached(date(2025, 1, 1), Span(months=12), date(2026, 1, 1))
    True
    """
    return add(born, span) <= day


def format_age(age: Age) -> str:
    """Age as a clinician says it: days, weeks and days, months and days, years and months."""

    def count(number: int, unit: str) -> str:
        return f"{number} {unit}{'' if number == 1 else 's'}"

    if age.total_days < 28:
        return count(age.total_days, "day")
    if age.months < 3:
        weeks, days = divmod(age.total_days, 7)
        return count(weeks, "week") + (f" {count(days, 'day')}" if days else "")
    if age.months < 24:
        return count(age.months, "month") + (f" {count(age.days, 'day')}" if age.days else "")
    months = age.months % 12
    return count(age.years, "year") + (f" {count(months, 'month')}" if months else "")


def next_day(value: date, days: int = 1) -> date:
    """The date ``days`` later."""
    return value + timedelta(days=days)
