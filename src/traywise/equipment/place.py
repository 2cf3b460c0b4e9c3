"""What goes into the equipment room and what comes out: doses to place, places, layout."""

from __future__ import annotations

from datetime import date

import msgspec

from traywise.rulebook.vaccines import Vaccine


class Needle(msgspec.Struct, frozen=True, kw_only=True, order=True):
    """Gauge and length; millimetres as the source prints or converts them."""

    gauge: int
    length_mm: int

    def __str__(self) -> str:
        return f"{self.gauge} G × {self.length_mm} mm"


class DoseToPlace(msgspec.Struct, frozen=True, kw_only=True):
    """One dose of the visit.

    volume_ml   of one injection
    injections  2 when the dose is two injections at two sites
    urgency     if not all have room, doses with a higher number are kept (0: all alike)
    """

    vaccine: Vaccine
    presentation: str
    volume_ml: float
    lot: str | None = None
    groups: tuple[str, ...] = ()
    injections: int = 1
    urgency: int = 0


class SupplyOnHand(msgspec.Struct, frozen=True, kw_only=True):
    """A line of the supplies: needle, syringe, needle+syringe, wipe, bandage, label ...

    expires  last day of use; None: none is printed, or nobody wrote it down
    box      pieces in one box as it is ordered, where known
    """

    item: str
    count: int
    gauge: int | None = None
    length_mm: int | None = None
    volume_ml: float | None = None
    expires: date | None = None
    box: int | None = None


class PlaceEquipment(msgspec.Struct, frozen=True, kw_only=True):
    """Site, needle, syringe, steps of one injection (or oral or nasal dose).

    dose      index into the doses as given to ``equip``; ``what`` is that dose
    part      1 of ``parts`` injections of that dose
    apart_mm  distance to keep from the other injections in the same limb; None if alone
    needle    None by mouth or nose, or when none of ``needle_choices`` is at hand
    """

    dose: int
    what: DoseToPlace
    part: int = 1
    parts: int = 1
    route: str
    site: str | None  # HL7 0163
    site_key: str | None = None  # thigh, deltoid, triceps, upper-arm, ventrogluteal
    limb: str | None = None  # LT, RT, LA, RA
    site_text: str
    position: str | None = None  # upper, middle, lower
    apart_mm: int | None = None
    needle: Needle | None = None
    needle_choices: tuple[Needle, ...] = ()
    needle_missing: str | None = None
    angle_deg: int | None = None
    technique: str = ""
    syringe: str = ""
    syringe_ml: float | None = None
    syringe_choices_ml: tuple[float, ...] = ()
    syringe_missing: str | None = None
    one_piece: bool = False  # needle and syringe taken as one piece
    steps: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()  # keys of visit.toml: what the steps use beside needle and syringe
    cautions: tuple[str, ...] = ()
    why: tuple[str, ...] = ()
    source: tuple[str, ...] = ()


class Unplaced(msgspec.Struct, frozen=True, kw_only=True):
    """A dose without a place today: the rule that binds and the first day of a second visit."""

    dose: int
    what: DoseToPlace
    why: str
    next_visit: date | None = None
    source: str = ""


class Layout(msgspec.Struct, frozen=True, kw_only=True):
    """All places in the order of giving, and what could not be placed."""

    places: tuple[PlaceEquipment, ...] = ()
    unplaced: tuple[Unplaced, ...] = ()
    cautions: tuple[str, ...] = ()
    policy: str = ""  # as asked for: a key or a path
    policy_key: str = ""
    policy_text: str = ""
