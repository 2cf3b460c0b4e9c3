"""The official needle stands: reach is a second opinion and moves no needle of any tray.

Lengths pinned by hand from ACIP, Vaccine Administration, Table 6-2 (administration.md 1.1); the
length taken where several are allowed, and the adult weight rows for teens, are common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import pytest

from traywise.calendar import add, parse_span
from traywise.equipment.tables import policies
from traywise.record.child import Child, Condition
from traywise.shelf.lot import Lot
from traywise.tray import compose
from traywise.tray.plan import ReachNote, Tray

ON = date(2026, 11, 24)
SHELF = [Lot(lot="H", cvx="08", presentation="prefilled", doses=9, expires=date(2040, 1, 1))]
TEEN_FROM = (add(date(2000, 1, 1), parse_span("11 years")) - date(2000, 1, 1)).days
LAST = 18 * 365 + 4
AGES = sorted(
    {*range(0, 100, 5), 28, 29, *range(100, 740, 40), 364, 365, 366}
    | {*range(740, TEEN_FROM, 122), *range(TEEN_FROM - 1, LAST, 183)}
)
# site, limbs to be kept free so that it is the one used, youngest age in days
THIGH, DELTOID = ("thigh", ("LA", "RA")), ("deltoid", ("LT", "RT"))
# weight, sex: nothing known, and both sides of each limit of the weight rows
BODIES = [
    (None, None),
    (59.9, "F"),
    (60.0, "M"),
    (90.0, "F"),
    (90.1, "F"),
    (118.0, "M"),
    (118.1, "M"),
]


def official_mm(site: str, born: date, weight_kg: float | None, sex: str | None) -> int:
    """The table's length for a term child, written out."""
    if site == "thigh" and add(born, parse_span("29 days")) > ON:
        return 16
    teen = add(born, parse_span("11 years")) <= ON
    over = weight_kg is not None and weight_kg > (90 if sex == "F" else 118)
    return 38 if teen and over else 25


def composed(
    age_days: int, avoid: tuple[str, ...], weight_kg: float | None = None, sex: str | None = None
) -> tuple[Child, Tray]:
    child = Child(
        id="invented",
        born=ON - timedelta(days=age_days),
        sex=sex,
        weight_kg=weight_kg,
        gestation_weeks=40,
        avoid=avoid,
        conditions=(Condition(key="deltoid-muscle-adequate"),),
    )
    return child, compose.compose_tray(child, ON, SHELF).tray


def cases() -> Iterator[tuple[str, int, tuple[str, ...], float | None, str | None]]:
    for site, avoid in (THIGH, DELTOID):
        for age_days in AGES:
            if (
                site == "deltoid"
                and add(ON - timedelta(days=age_days), parse_span("12 months")) > ON
            ):
                continue
            for weight_kg, sex in BODIES if age_days >= TEEN_FROM else BODIES[:1]:
                yield site, age_days, avoid, weight_kg, sex


def test_the_needle_is_the_tables_at_every_age_and_site():
    seen = set()
    for site, age_days, avoid, weight_kg, sex in cases():
        child, tray = composed(age_days, avoid, weight_kg, sex)
        (place,) = tray.tray
        assert place.needle is not None
        wanted = official_mm(site, child.born, weight_kg, sex)
        assert place.needle.length_mm == wanted, (site, age_days, weight_kg, sex)
        assert all(note.length_mm == wanted for note in tray.reach)
        seen |= {(site, note.differs) for note in tray.reach}
    # The pin would hold nothing if the second opinion never disagreed.
    assert {("thigh", True), ("thigh", False)} <= seen


def quiet(*_: object) -> tuple[ReachNote, ...]:
    return ()


def loud(child: Child, on: date, places: tuple[object, ...]) -> tuple[ReachNote, ...]:
    """A second opinion that calls every needle wrong."""
    return tuple(
        ReachNote(site="thigh", length_mm=99, places=(n,), differs=True, text="take 99 mm")
        for n, _ in enumerate(places, start=1)
    )


@pytest.mark.parametrize("opinion", [quiet, loud])
@pytest.mark.parametrize("policy", sorted(policies()))
def test_no_opinion_moves_anything_else_on_the_tray(monkeypatch, opinion, policy):
    for age_days in (0, 29, 61, 548, 1826, 4748, 6500):
        child = Child(id="invented", born=ON - timedelta(days=age_days), sex="F", weight_kg=None)
        shelf = [*SHELF, Lot(lot="P", cvx="216", presentation="prefilled", doses=9, expires=None)]
        with monkeypatch.context() as patched:
            plain = compose.compose_tray(child, ON, shelf, policy=policy).tray
            patched.setattr(compose, "reach_notes", opinion)
            other = compose.compose_tray(child, ON, shelf, policy=policy).tray
        assert other.tray == plain.tray
        assert other.supplies == plain.supplies
        assert other.cautions == plain.cautions
        assert plain.tray
