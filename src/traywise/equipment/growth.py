"""Weight for age: the z-score of a weight by the WHO standards or the CDC charts.

WHO serves below 24 months, CDC from 24 months to 20 years, as CDC advises. Key rows stand
in ``editions/tables/growth-weight.toml``. Far from the median the plain formula misleads:
WHO goes on in steps of its last SD, CDC measures in halves of the second SD (modified z).
"""

from __future__ import annotations

from bisect import bisect_right
from functools import cache
from math import exp, log

import msgspec

from traywise.rulebook.tables import load_table

DAYS_PER_MONTH = 30.4375
WHO_UNTIL_MONTHS = 24.0


class GrowthRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """L, M and S of one age and sex; the age in days (WHO) or months (CDC)."""

    key: str
    sex: str
    age_days: float | None = None
    age_months: float | None = None
    l: float  # noqa: E741  the reference calls it L
    m_kg: float
    s: float
    source: str

    @property
    def reference(self) -> str:
        """Key of the source: who-growth-2006 or cdc-growth-2000."""
        return self.source.partition(",")[0]


class Lms(msgspec.Struct, frozen=True):
    """The three figures of one age and sex, and whose they are."""

    power: float
    median_kg: float
    spread: float
    reference: str


@cache
def _rows(reference: str, sex: str) -> tuple[tuple[float, ...], tuple[GrowthRow, ...]]:
    rows = [
        row
        for row in load_table("growth-weight", GrowthRow)
        if row.reference == reference and row.sex == sex
    ]
    rows.sort(key=_age)
    return tuple(_age(row) for row in rows), tuple(rows)


def _age(row: GrowthRow) -> float:
    return row.age_months if row.age_days is None else row.age_days  # type: ignore[return-value]


def lms_at(age_days: float, sex: str) -> Lms | None:
    """L, M, S for an age; ``sex`` is F or M. None outside birth to 20 years."""
    months = age_days / DAYS_PER_MONTH
    if age_days < 0:
        return None
    if months < WHO_UNTIL_MONTHS:
        return _on_the_line("who-growth-2006", sex, age_days)
    return _on_the_line("cdc-growth-2000", sex, months)


def _on_the_line(reference: str, sex: str, age: float) -> Lms | None:
    ages, rows = _rows(reference, sex)
    if not ages or age > ages[-1]:
        return None
    place = min(bisect_right(ages, age), len(ages) - 1)
    younger, older = rows[place - 1], rows[place]
    along = (age - ages[place - 1]) / (ages[place] - ages[place - 1])
    return Lms(
        younger.l + along * (older.l - younger.l),
        younger.m_kg + along * (older.m_kg - younger.m_kg),
        younger.s + along * (older.s - younger.s),
        reference,
    )


def weight_at(z: float, lms: Lms) -> float:
    """Weight in kg at a z-score by the plain formula.

    >>> round(weight_at(0, Lms(0.0645, 9.6460, 0.10925, "who-growth-2006")), 3)
    9.646
    """
    if abs(lms.power) < 1e-9:
        return lms.median_kg * exp(lms.spread * z)
    return float(lms.median_kg * (1 + lms.power * lms.spread * z) ** (1 / lms.power))


def z_score(weight_kg: float, lms: Lms) -> float:
    """Distance from the median in SDs, by the rule of the reference for far weights."""
    if lms.reference == "cdc-growth-2000":
        return _modified_z(weight_kg, lms)
    if abs(lms.power) < 1e-9:
        z = log(weight_kg / lms.median_kg) / lms.spread
    else:
        z = ((weight_kg / lms.median_kg) ** lms.power - 1) / (lms.power * lms.spread)
    if abs(z) <= 3:
        return z
    side = 3 if z > 0 else -3
    last_step = abs(weight_at(side, lms) - weight_at(side - side / 3, lms))
    return side + (weight_kg - weight_at(side, lms)) / last_step


def _modified_z(weight_kg: float, lms: Lms) -> float:
    """CDC: half the distance from the median to the second SD counts as one."""
    side = 2 if weight_kg >= lms.median_kg else -2
    return (weight_kg - lms.median_kg) / (abs(weight_at(side, lms) - lms.median_kg) / 2)
