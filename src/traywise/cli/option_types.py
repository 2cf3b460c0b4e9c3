"""Options that several commands share: days within reach, numbers that are numbers, tables."""

from __future__ import annotations

import math
import re
from datetime import datetime, time
from pathlib import Path
from typing import Any

import click

from traywise.calendar import FIRST_ENTRY_YEAR, LAST_ENTRY_YEAR


class _Day(click.DateTime):
    """YYYY-MM-DD, within the years that the calendar can add to."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime:
        try:
            day: datetime = super().convert(value, param, ctx)
        except click.BadParameter:
            self.fail(f'"{value}" is no day of the calendar, written YYYY-MM-DD.', param, ctx)
        if not FIRST_ENTRY_YEAR <= day.year <= LAST_ENTRY_YEAR:
            limits = f"{FIRST_ENTRY_YEAR} and {LAST_ENTRY_YEAR}"
            self.fail(f"{value}: the year must lie between {limits}.", param, ctx)
        return day


DAY = _Day(formats=["%Y-%m-%d"])


class Number(click.FloatRange):
    """A number with limits, written in digits; neither "nan" nor "inf"."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        number: float = super().convert(value, param, ctx)
        if not math.isfinite(number):
            self.fail(f"{value} is not a number. Write it in digits.", param, ctx)
        return number


def read_clock(text: str) -> time:
    """HH:MM as a time of day; a clear message and exit 2 for anything else.

    >>> read_clock("09:20")
    datetime.time(9, 20)
    """
    found = re.fullmatch(r"([01]?[0-9]|2[0-3]):([0-5][0-9])", text, re.ASCII)
    if found is None:
        raise click.UsageError(f'"{text}" is no time of day. Write HH:MM: 09:20.')
    return time(int(found[1]), int(found[2]))


DOSES = click.option(
    "--doses", "dose_file", type=click.Path(path_type=Path), help="Doses, one a line."
)
DATE_ORDER = click.option(
    "--date-order",
    type=click.Choice(["dmy", "mdy"]),
    help="Of dates in the tables, where no cell decides.",
)
