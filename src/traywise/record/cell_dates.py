"""Dates in tables: the order of day and month is found out for a column, never guessed for a cell.

03/05/2024 alone can be two days. A column in which one cell can be read in one order
only decides for all of it; where none does, the person is asked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from functools import lru_cache

from traywise.record.values import BadValue, make_date, read_date, show

ORDERS = ("dmy", "mdy", "ymd")

_NUMBERS = re.compile(r"(\d{1,4})[-/. ]+(\d{1,2})[-/. ]+(\d{1,4})\.?")
_MIDNIGHT = re.compile(r"(.*\d)[T ]+0{1,2}:00(:00(\.0+)?)?(Z|[+-]\d\d:?\d\d| AM)?")
_WITH_TIME = re.compile(r"(.*\d)[T ]+\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?(Z|[+-]\d\d:?\d\d| [AP]M)?")
_SERIAL = re.compile(r"(\d{5})(\.0+)?")
_NAMED = re.compile(
    r"(\d{1,2})[-/. ]+([a-z]{3,9})[-/., ]+(\d{4})|([a-z]{3,9}) +(\d{1,2}),? +(\d{4})"
)
_MONTHS = {
    name: index // 3 + 1
    for index in range(0, 36, 3)
    for name in ("janfebmaraprmayjunjulaugsepoctnovdec"[index : index + 3],)
}
# Spreadsheets count days from 1899-12-30 in the calendar they use by default.
_SERIAL_ORIGIN = date(1899, 12, 30).toordinal()


def strip_time(text: str) -> str:
    """The text without a time of day, which spreadsheets add to days."""
    found = _MIDNIGHT.fullmatch(text) or _WITH_TIME.fullmatch(text)
    return found[1] if found else text


def _is_open(text: str) -> tuple[int, int, int] | None:
    """The three numbers when a text leaves the order of day and month open."""
    found = _NUMBERS.fullmatch(strip_time(text))
    if found and len(found[3]) == 4 and len(found[1]) <= 2:
        return int(found[1]), int(found[2]), int(found[3])
    return None


def find_order(cells: Iterable[str]) -> tuple[str | None, str]:
    """Order of the column and how it is known.

    ("dmy", ...) or ("mdy", ...); ("any", ...) when no cell needs one; (None, reason)
    when the cells leave it open or speak against each other.

    >>> find_order(["03/05/2024", "23/05/2024"])[0]
    'dmy'
    >>> find_order(["03/05/2024", "2024-05-03"])[0] is None
    True
    """
    day_first = month_first = open_cell = None
    for cell in cells:
        numbers = _is_open(cell)
        if numbers is None or numbers[0] == numbers[1]:
            continue
        if numbers[0] > 12 >= numbers[1]:
            day_first = day_first or cell
        elif numbers[1] > 12 >= numbers[0]:
            month_first = month_first or cell
        else:
            open_cell = open_cell or cell
    if day_first and month_first:
        return None, f'"{day_first}" has the day first, "{month_first}" the month'
    if day_first:
        return "dmy", f'day first, as in "{day_first}"'
    if month_first:
        return "mdy", f'month first, as in "{month_first}"'
    if open_cell:
        return None, f'"{open_cell}" can be read in two ways and no cell decides'
    return "any", ""


@lru_cache(maxsize=50_000)
def read_cell_date(text: str, order: str | None) -> date:
    """A day from a cell, with the order of its column; raises BadValue with the remedy.

    >>> str(read_cell_date("03/05/2024", "dmy")), str(read_cell_date("45415", None))
    ('2024-05-03', '2024-05-03')
    """
    plain = strip_time(text)
    serial = _SERIAL.fullmatch(plain)
    if serial:
        day = date.fromordinal(_SERIAL_ORIGIN + int(serial[1]))
        return make_date(day.year, day.month, day.day, show(text))
    named = _NAMED.fullmatch(plain.casefold())
    if named:
        return _named_date(named, text)
    numbers = _NUMBERS.fullmatch(plain)
    if numbers is None or (len(numbers[1]) == 4 and len(numbers[3]) <= 2):
        return read_date(_iso(numbers) if numbers else plain)
    if len(numbers[3]) != 4 or len(numbers[1]) > 2:
        raise BadValue(
            "record.E105",
            f"{show(text)} does not say the century. Write four digits for the year.",
        )
    first, second, year = int(numbers[1]), int(numbers[2]), int(numbers[3])
    day_first = order == "dmy" or (order != "mdy" and first > 12)
    if order not in ("dmy", "mdy") and first != second and first <= 12 and second <= 12:
        raise BadValue("record.E104", f"{show(text)} can be read in two ways. Write YYYY-MM-DD.")
    month, day_of_month = (second, first) if day_first else (first, second)
    return make_date(year, month, day_of_month, show(text))


def _iso(numbers: re.Match[str]) -> str:
    return f"{numbers[1]}-{numbers[2]:0>2}-{numbers[3]:0>2}"


def _named_date(found: re.Match[str], text: str) -> date:
    day, name, year = (found[1], found[2], found[3]) if found[1] else (found[5], found[4], found[6])
    month = _MONTHS.get(name[:3])
    if month is None:
        raise BadValue("record.E021", f'{show(text)} is not a date. Write "YYYY-MM-DD".')
    return make_date(int(year), month, int(day), show(text))


def is_serial(text: str) -> bool:
    """Whether a cell holds a spreadsheet's day number.

    >>> is_serial("45415"), is_serial("2024-05-03")
    (True, False)
    """
    return _SERIAL.fullmatch(strip_time(text)) is not None


def looks_like_date(text: str) -> bool:
    """Whether a cell holds something like a date, in whatever order.

    >>> looks_like_date("3/5/24"), looks_like_date("yes")
    (True, False)
    """
    plain = strip_time(text)
    found = _NUMBERS.fullmatch(plain) or _NAMED.fullmatch(plain.casefold())
    return found is not None or is_serial(plain)
