"""What must lie ready for a layout: needles, syringes, wipes, labels, and how many."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import msgspec

from traywise.equipment.place import Layout, PlaceEquipment, SupplyOnHand
from traywise.equipment.steps import is_mixed


def what_lies_ready(layout: Layout) -> tuple[SupplyOnHand, ...]:
    """Everything the visit uses, each kind once with its count, in the order of use.

    Items are those of the supplies list, and ``filter-needle`` and ``mixing-syringe``
    where a glass ampoule or a powder of several doses asks for them. A needle or syringe
    that is not at hand is counted as its first choice: it must be there before the visit.
    """
    injected = [place for place in layout.places if place.site is not None]
    counts = Counter(kind for place in injected for kind in _used_at(place))
    if len(injected) > 1:
        counts[SupplyOnHand(item="label", count=0)] = len(injected)
    if injected:
        counts[SupplyOnHand(item="sharps-container", count=0)] = 1
    return tuple(msgspec.structs.replace(kind, count=count) for kind, count in counts.items())


def _used_at(place: PlaceEquipment) -> Iterator[SupplyOnHand]:
    needle = place.needle or place.needle_choices[0]
    sizes = place.syringe_choices_ml
    size = place.syringe_ml if place.syringe_ml is not None else (sizes[0] if sizes else None)
    gauge, length_mm = needle.gauge, needle.length_mm
    if place.one_piece:
        yield SupplyOnHand(
            item="needle+syringe", count=0, gauge=gauge, length_mm=length_mm, volume_ml=size
        )
    else:
        yield SupplyOnHand(item="needle", count=0, gauge=gauge, length_mm=length_mm)
        if size is not None:
            yield SupplyOnHand(item="syringe", count=0, volume_ml=size)
    if place.what.presentation == "ampoule":
        yield SupplyOnHand(item="filter-needle", count=0)
    if is_mixed(place.what) and place.what.presentation != "vial+diluent":
        yield SupplyOnHand(item="mixing-syringe", count=0)
    yield SupplyOnHand(item="wipe", count=0)
    yield SupplyOnHand(item="bandage", count=0)
