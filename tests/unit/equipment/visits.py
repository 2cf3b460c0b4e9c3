"""Invented children and visits for the tests of the equipment room."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from traywise.calendar import Span, add, parse_span
from traywise.equipment import DoseToPlace, Layout, PlaceEquipment, SupplyOnHand, equip
from traywise.record.child import Child, Condition
from traywise.rulebook.vaccines import vaccines

ON = date(2026, 11, 24)
BORN = date(2010, 3, 9)


def child_of(
    age: str, *, less_days: int = 0, conditions: Sequence[str] = (), **known: Any
) -> tuple[Child, date]:
    """A child and the day on which it reaches ``age``, ``less_days`` earlier."""
    on = add(BORN, parse_span(age) if age != "birth" else Span()) - timedelta(days=less_days)
    held = tuple(Condition(key=key) for key in conditions)
    return Child(id="invented", born=BORN, conditions=held, **known), on


def dose(
    key: str, *, presentation: str | None = None, volume_ml: float = 0.5, **more: Any
) -> DoseToPlace:
    """A dose of a product of the table, in its first presentation."""
    vaccine = vaccines()[key]
    return DoseToPlace(
        vaccine=vaccine,
        presentation=presentation or vaccine.presentations[0],
        volume_ml=volume_ml,
        groups=vaccine.groups,
        **more,
    )


def equip_one(
    age: str,
    key: str,
    *,
    less_days: int = 0,
    policy: str = "acip-2024",
    supplies: Sequence[SupplyOnHand] | None = None,
    **known: Any,
) -> PlaceEquipment:
    """The only place of a visit with one dose."""
    child, on = child_of(age, less_days=less_days, **known)
    layout = equip(child, on, [dose(key)], supplies, policy)
    assert len(layout.places) == 1, layout.unplaced
    return layout.places[0]


def equip_many(age: str, keys: Sequence[str], **known: Any) -> Layout:
    """A visit with several doses."""
    child, on = child_of(age, **known)
    return equip(child, on, [dose(key) for key in keys])


def at(layout: Layout, key: str) -> PlaceEquipment:
    """The place of a product."""
    return next(place for place in layout.places if place.what.vaccine.key == key)


def lengths(place: PlaceEquipment) -> set[int]:
    """All lengths that the table allows at a place."""
    return {needle.length_mm for needle in place.needle_choices}


def gauges(place: PlaceEquipment) -> set[int]:
    return {needle.gauge for needle in place.needle_choices}
