"""Site, needle, syringe and technique for every dose of a visit, laid out over the limbs.

In come the child, the day, the doses that the visit gives (products already chosen) and
what supplies are at hand. Out comes a layout: places in the order of giving, each with
site, needle, syringe, steps, cautions, reasons and sources; what has no place today and
why. The room never decides which dose is due or which product serves, never takes a
needle that the table does not allow, and never overrides the table by its own estimate
of reach.
"""

from traywise.equipment.equip import equip
from traywise.equipment.place import (
    DoseToPlace,
    Layout,
    Needle,
    PlaceEquipment,
    SupplyOnHand,
    Unplaced,
)
from traywise.equipment.supplies import read_supplies, read_supplies_file

__all__ = [
    "DoseToPlace",
    "Layout",
    "Needle",
    "PlaceEquipment",
    "SupplyOnHand",
    "Unplaced",
    "equip",
    "read_supplies",
    "read_supplies_file",
]
