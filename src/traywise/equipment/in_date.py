"""Which supplies may still be used on a day, and which box of a kind is used first."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import msgspec

from traywise.equipment.place import PlaceEquipment, SupplyOnHand


def is_expired(supply: SupplyOnHand, on: date) -> bool:
    """Whether its last day has passed; without an expiry it never has.

    >>> wipes = SupplyOnHand(item="wipe", count=9, expires=date(2026, 11, 24))
    >>> is_expired(wipes, date(2026, 11, 24)), is_expired(wipes, date(2026, 11, 25))
    (False, True)
    """
    return supply.expires is not None and supply.expires < on


def in_date(supplies: Sequence[SupplyOnHand], on: date) -> tuple[SupplyOnHand, ...]:
    """What may be used on that day, what expires soonest first, undated boxes last."""
    usable = [supply for supply in supplies if not is_expired(supply, on)]
    return tuple(sorted(usable, key=lambda supply: supply.expires or date.max))


def expired(supplies: Sequence[SupplyOnHand], on: date) -> tuple[SupplyOnHand, ...]:
    """What must not be used any more on that day, as it stands in the list."""
    return tuple(supply for supply in supplies if is_expired(supply, on) and supply.count)


def name_expired(place: PlaceEquipment, gone: Sequence[SupplyOnHand]) -> PlaceEquipment:
    """The place; where it lacks a needle that lies there expired, that is said."""
    sizes = {(needle.gauge, needle.length_mm) for needle in place.needle_choices}
    days = [line.expires for line in gone if (line.gauge, line.length_mm) in sizes and line.expires]
    if not place.needle_missing or not days:
        return place
    text = f"{place.needle_missing} What lies there expired on {max(days)}."
    return msgspec.structs.replace(place, needle_missing=text)
