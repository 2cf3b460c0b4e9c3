"""A dose with the place it takes, and the positions of those that share a site."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from traywise.equipment.body import SIDE_OF_LIMB
from traywise.equipment.place import DoseToPlace
from traywise.equipment.site import SiteOption
from traywise.equipment.tables import sites

POSITIONS = {1: (None,), 2: ("upper", "lower"), 3: ("upper", "middle", "lower")}


class Spot(msgspec.Struct, frozen=True, kw_only=True):
    """One injection at its place, or one dose by mouth or nose (``option`` None)."""

    dose: int
    part: int
    parts: int
    what: DoseToPlace
    route: str
    route_why: str = ""
    option: SiteOption | None = None
    position: str | None = None


def give_positions(spots: Sequence[Spot]) -> list[Spot]:
    """Upper, middle, lower for those that share a site of one limb, the first given uppermost."""
    shared: dict[tuple[str, str], list[int]] = {}
    for n, spot in enumerate(spots):
        if spot.option is not None:
            shared.setdefault((spot.option.site, spot.option.limb), []).append(n)
    placed = list(spots)
    for members in shared.values():
        for n, position in zip(members, POSITIONS[len(members)], strict=True):
            placed[n] = msgspec.structs.replace(spots[n], position=position)
    return placed


def same_limb(spots: Sequence[Spot], n: int) -> list[int]:
    """Indexes of the other injections in the limb of spot n."""
    option = spots[n].option
    if option is None:
        return []
    return [
        other
        for other, spot in enumerate(spots)
        if other != n and spot.option is not None and spot.option.limb == option.limb
    ]


def spot_text(spot: Spot) -> str:
    """The place in words: "left thigh, upper, outer side of the middle third"."""
    if spot.option is None:
        return "by mouth" if spot.route == "PO" else "nose"
    row = sites()[spot.option.site]
    parts = [f"{SIDE_OF_LIMB[spot.option.limb]} {row.name}", spot.position, row.spot]
    return ", ".join(part for part in parts if part)
