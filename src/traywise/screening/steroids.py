"""A systemic steroid by dose and days: does it weaken immunity, does it not, or is it unclear."""

from __future__ import annotations

from traywise.record.child import Child
from traywise.screening.question_rows import number_given, question_rows
from traywise.screening.rules import SteroidLimit, steroid_limit


def refined(key: str, child: Child) -> str:
    """The condition that a systemic steroid amounts to once dose and days are answered.

    Any other key comes back as it is.
    """
    limit = steroid_limit()
    if key != limit.unclear:
        return key
    high_dose = _dose_is_high(limit, child)
    days = _number("steroid days", child)
    long = None if days is None else days >= limit.days_from
    if high_dose is False or long is False:
        return limit.low
    return limit.high if high_dose and long else limit.unclear


def _dose_is_high(limit: SteroidLimit, child: Child) -> bool | None:
    """None when the dose is not known, or only a missing weight could tell."""
    mg_per_day = _number("steroid dose", child)
    if mg_per_day is None:
        return None
    # From 20 mg a day a child of 10 kg or less has 2 mg/kg anyway: no weight is needed.
    if mg_per_day >= limit.mg_per_day_from:
        return True
    if child.weight_kg is None:
        return None
    return mg_per_day / child.weight_kg >= limit.mg_per_kg_day_from


def weight_decides(child: Child) -> bool:
    """Whether only a missing weight keeps a known dose from being judged."""
    return child.weight_kg is None and (
        _number("steroid dose", child) is not None and _dose_is_high(steroid_limit(), child) is None
    )


def _number(part: str, child: Child) -> float | None:
    row = next(row for row in question_rows().values() if row.part == part)
    return number_given(row, child.answers)
