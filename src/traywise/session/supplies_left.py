"""Takes the needles and syringes of one tray from what is at hand, for the next tray to see."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from traywise.equipment.place import SupplyOnHand
from traywise.tray.plan import Supply


def take_supplies(
    at_hand: Sequence[SupplyOnHand] | None, taken: Sequence[Supply]
) -> tuple[SupplyOnHand, ...] | None:
    """What is left; items that nobody counts stay as they are. None: nothing is counted."""
    if at_hand is None:
        return None
    left = list(at_hand)
    for supply in taken:
        missing = supply.count
        for number, line in enumerate(left):
            if missing and _same(line, supply):
                used = min(missing, line.count)
                left[number] = msgspec.structs.replace(line, count=line.count - used)
                missing -= used
    return tuple(left)


def _same(line: SupplyOnHand, supply: Supply) -> bool:
    return (line.item, line.gauge, line.length_mm, line.volume_ml, line.expires) == (
        supply.item,
        supply.gauge,
        supply.length_mm,
        supply.volume_ml,
        supply.expires,
    )
