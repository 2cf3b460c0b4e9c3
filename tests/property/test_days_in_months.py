"""The bounds in days that stand beside every span hold for every day and every span."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from traywise.calendar import FIRST_OF, LAST_DAY, MONTH_OF, add_span, days_in_months


@given(
    day=st.integers(0, LAST_DAY - 45 * 366),
    months=st.integers(0, 12 * 44),
)
def test_adding_months_takes_no_fewer_and_no_more_days_than_said(day: int, months: int) -> None:
    least, most = days_in_months(months)
    assert least <= add_span(day, months, 0, MONTH_OF, FIRST_OF) - day <= most


def test_the_most_days_are_reached_and_the_least_are_near() -> None:
    """Common practice: a year takes 365 or 366 days, a month 28 to 31, a clamped one fewer."""
    for months, shortest, longest in ((1, 28, 31), (12, 365, 366), (48, 1460, 1461)):
        least, most = days_in_months(months)
        assert most == longest
        assert shortest - 3 <= least <= shortest


def test_every_start_in_a_century_without_a_leap_day_is_covered() -> None:
    """1900 and 2100 have no 29 February (Gregorian calendar, common practice)."""
    for months in (1, 2, 6, 12, 18, 48, 132):
        least, most = days_in_months(months)
        for start in (*range(1500), *range(FIRST_OF[2099 * 12 - 1900 * 12], FIRST_OF[2422])):
            assert least <= add_span(start, months, 0, MONTH_OF, FIRST_OF) - start <= most
