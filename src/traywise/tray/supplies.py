"""What to lay ready for a tray: needles and syringes by size, diluents, wipes and the rest."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from traywise.equipment.place import PlaceEquipment, SupplyOnHand
from traywise.rulebook.vaccines import vaccines
from traywise.rulebook.visit import VisitSupply, visit_supplies
from traywise.tray.plan import Place, Supply

_Key = tuple[str, int | None, int | None, float | None, date | None]


def supplies_of(places: Sequence[Place], spots: Sequence[PlaceEquipment]) -> tuple[Supply, ...]:
    """Every item with its count; needles first, by length."""
    counts: Counter[tuple[str, int | None, int | None, float | None]] = Counter()
    for place, spot in zip(places, spots, strict=True):
        needle, syringe_ml = place.needle, spot.syringe_ml
        if needle is not None and spot.one_piece:
            counts["needle+syringe", needle.gauge, needle.length_mm, syringe_ml] += 1
        elif needle is not None:
            counts["needle", needle.gauge, needle.length_mm, None] += 1
        if syringe_ml is not None and not spot.one_piece:
            counts["syringe", None, None, syringe_ml] += 1
        diluent = vaccines()[place.vaccine].diluent
        if place.use_within_minutes is not None and diluent is not None and spot.part == 1:
            counts[f"{place.name} diluent ({diluent.name})", None, None, None] += 1
    times = {
        "injection": sum(spot.site_key is not None for spot in spots),
        "syringe": sum(spot.syringe_ml is not None for spot in spots),
        "visit": 1 if places else 0,
    }
    for row in visit_supplies():
        number = times.get(row.per, 0)
        if row.per in ("step", "vial"):
            number = _asked_by_steps(row, places, spots)
        if number:
            counts[row.item, None, None, None] += row.count * number
    return _in_order({(*key, None): count for key, count in counts.items()})


def from_boxes(supplies: Sequence[Supply], at_hand: Sequence[SupplyOnHand]) -> tuple[Supply, ...]:
    """The same, each piece with the expiry of the box it is taken from.

    at_hand  boxes that may be used, in the order of use: soonest expiry first
    """
    counts: Counter[_Key] = Counter()
    for supply in supplies:
        kind = (supply.item, supply.gauge, supply.length_mm, supply.volume_ml)
        missing = supply.count
        for box in at_hand:
            if (box.item, box.gauge, box.length_mm, box.volume_ml) == kind:
                taken = min(missing, box.count)
                counts[(*kind, box.expires)] += taken
                missing -= taken
        counts[(*kind, None)] += missing
    return _in_order({key: count for key, count in counts.items() if count})


def _key(supply: Supply) -> _Key:
    return supply.item, supply.gauge, supply.length_mm, supply.volume_ml, supply.expires


def _asked_by_steps(
    row: VisitSupply, places: Sequence[Place], spots: Sequence[PlaceEquipment]
) -> int:
    """How many places ask for the item in their steps; of one lot once, where a vial shares it."""
    asking = [
        (place.vaccine, place.lot)
        for place, spot in zip(places, spots, strict=True)
        if row.key in spot.needs
    ]
    return len(set(asking)) if row.per == "vial" else len(asking)


def supplies_together(trays: Iterable[Sequence[Supply]]) -> tuple[Supply, ...]:
    """What several trays need together; what a visit needs once, a room needs once as well.

    What is needed once a vial is named so: the trays do not know how many vials will be opened.
    """
    counts: Counter[_Key] = Counter()
    once = {row.item for row in visit_supplies() if row.per in ("visit", "vial")}
    for supplies in trays:
        for supply in supplies:
            key = _key(supply)
            counts[key] = (
                max(counts[key], supply.count)
                if supply.item in once
                else (counts[key] + supply.count)
            )
    return _in_order(counts)


def _in_order(counts: Mapping[_Key, int]) -> tuple[Supply, ...]:
    return tuple(
        Supply(
            item=item,
            count=count,
            gauge=gauge,
            length_mm=length_mm,
            volume_ml=volume_ml,
            expires=expires,
        )
        for (item, gauge, length_mm, volume_ml, expires), count in sorted(
            counts.items(), key=_order
        )
    )


_FIRST = ("needle", "needle+syringe", "filter-needle", "syringe")
_LAST = ("wipe", "bandage", "label", "gloves", "sharps-container")


def _order(entry: tuple[_Key, int]) -> tuple[int, int, int, float, str, date]:
    (item, gauge, length_mm, volume_ml, expires), _ = entry
    if item in _FIRST:
        rank = _FIRST.index(item)
    else:
        rank = 10 + (_LAST.index(item) if item in _LAST else -1)
    return rank, length_mm or 0, gauge or 0, volume_ml or 0, item, expires or date.max
