"""A tray with what the vaccinator changed, and what that breaks, as the rooms below see it.

A change of lot goes through the tray room's own fitting and a new layout; a change of limb
or needle is put on the layout and looked at by the equipment room's second pair of eyes.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

import msgspec

from traywise.equipment.check import check_layout
from traywise.equipment.place import DoseToPlace, Layout, PlaceEquipment, SupplyOnHand
from traywise.equipment.place import Needle as EquipmentNeedle
from traywise.equipment.tables import rules, sites
from traywise.paper.wording import site_words
from traywise.record.child import Child
from traywise.rulebook.vaccines import vaccines
from traywise.shelf.lot import Lot as ShelfLot
from traywise.tray.blocks import blocks_of
from traywise.tray.compose import Visit, compose_from
from traywise.tray.fit import Refusal, Serving, fit
from traywise.tray.need import Need, need_of
from traywise.tray.plan import Needle, Place, Tray
from traywise.tray.products import Choice, Pick
from traywise.workbench.asking.needle_policy import clinic_policy
from traywise.workbench.asking.shelf_rows import why_not_now

POSITIONS = {1: (None,), 2: ("upper", "lower"), 3: ("upper", "middle", "lower")}


class Wish(NamedTuple):
    """One change: of the place that gives ``groups``, the lot, the site or the needle."""

    groups: str  # joined by "+"
    what: str
    value: str


class Changed(msgspec.Struct, frozen=True, kw_only=True):
    """The tray after the changes, and each rule it breaks, in words."""

    tray: Tray
    breaks: tuple[str, ...] = ()


def groups_key(groups: Sequence[str]) -> str:
    """How a place is named across compositions: by what it gives.

    >>> groups_key(("IPV", "DTaP"))
    'DTaP+IPV'
    """
    return "+".join(sorted(groups))


def lot_key(lot: ShelfLot) -> str:
    """Names a line of the shelf in a form."""
    return "|".join((lot.lot, lot.cvx, lot.unit, lot.funding, "open" if lot.opened else ""))


def need_behind(visit: Visit, child: Child, on: date, asked: frozenset[str]) -> Need:
    """The need that this visit's products were chosen for."""
    blocks = blocks_of(visit.screening.findings)
    return need_of(child, on, visit.answer, blocks, None, asked)


def change_tray(
    visit: Visit,
    child: Child,
    on: date,
    stock: Sequence[ShelfLot],
    supplies: Sequence[SupplyOnHand] | None,
    wishes: Sequence[Wish],
    asked: frozenset[str],
) -> Changed:
    """Apply the wishes in their order."""
    breaks: list[str] = []
    lots = [wish for wish in wishes if wish.what == "lot"]
    tray = visit.tray
    if lots:
        need = need_behind(visit, child, on, asked)
        picks = list(visit.picks)
        for wish in lots:
            picks, found = _swap(picks, wish, need, stock)
            breaks += found
        choice = Choice(picks=tuple(picks), unserved=tray.not_today)
        tray = compose_from(
            child,
            on,
            visit.answer,
            visit.screening,
            choice,
            supplies,
            clinic_policy(),
            asked,
        ).tray
        tray = without_repeats(tray)
        breaks += _uncovered(visit, tray)
    others = [wish for wish in wishes if wish.what in ("site", "needle")]
    for wish in others:
        tray = _move(tray, wish)
    if others:
        breaks += check_layout(child, on, layout_of(tray))
    return Changed(tray=tray, breaks=tuple(dict.fromkeys(breaks)))


def _swap(
    picks: list[Pick], wish: Wish, need: Need, stock: Sequence[ShelfLot]
) -> tuple[list[Pick], list[str]]:
    """Another line of the shelf for one pick, if the tray room lets it serve."""
    index = next(
        (i for i, p in enumerate(picks) if groups_key((*p.groups, *p.extra)) == wish.groups), None
    )
    lot = next((lot for lot in stock if lot_key(lot) == wish.value), None)
    if index is None:
        return picks, []
    if lot is None or lot.product is None:
        return picks, [f"the lot chosen for {wish.groups} is not on the shelf any more"]
    unusable = why_not_now(lot, need.on)
    if unusable is not None:
        return picks, [f"lot {lot.lot} was not taken: {unusable}"]
    found = fit(need, lot.product, lot.presentation)
    if not isinstance(found, Serving):
        why = found.why if isinstance(found, Refusal) else "covers nothing that is due"
        return picks, [f"{lot.product.name} was not taken: {why}"]
    new = pick_of(lot, found, "chosen by the vaccinator")
    rest = picks[:index] + picks[index + 1 :]
    twice = [g for p in rest for g in p.groups if g in found.groups]
    breaks = [f"{group} would be given twice" for group in twice]
    return [*picks[:index], new, *picks[index + 1 :]], breaks


def pick_of(lot: ShelfLot, found: Serving, why: str) -> Pick:
    """A pick made from a serving that the tray room allowed."""
    return Pick(
        lot=lot,
        vaccine=found.vaccine.key,
        groups=found.groups,
        extra=found.extra,
        dose_numbers=found.dose_numbers,
        volume_ml=found.volume_ml,
        injections=found.injections,
        why=(why,),
    )


def without_repeats(tray: Tray) -> Tray:
    """Each group that is not given today said once."""
    once = {(item.group, item.why): item for item in reversed(tray.not_today)}
    by_group = {group: item for (group, _), item in once.items()}
    return msgspec.structs.replace(tray, not_today=tuple(reversed(by_group.values())))


def _uncovered(before: Visit, tray: Tray) -> list[str]:
    planned = {group for pick in before.picks for group in pick.groups}
    now = {group for place in tray.tray for group in place.groups}
    return [f"{group} is not given any more" for group in sorted(planned - now)]


def _move(tray: Tray, wish: Wish) -> Tray:
    places = [
        _moved(place, wish) if groups_key(place.groups) == wish.groups else place
        for place in tray.tray
    ]
    return msgspec.structs.replace(tray, tray=_spread(places))


def _moved(place: Place, wish: Wish) -> Place:
    if wish.what == "needle":
        gauge, _, length = wish.value.partition("x")
        needle = Needle(gauge=int(gauge), length_mm=int(length))
        return msgspec.structs.replace(place, needle=needle, needle_missing=None)
    return msgspec.structs.replace(place, site=wish.value)


def _spread(places: Sequence[Place]) -> tuple[Place, ...]:
    """Positions within each limb anew, in the order of giving."""
    by_site: dict[str, list[int]] = {}
    for place in places:
        if place.site:
            by_site.setdefault(place.site, []).append(place.n)
    out = []
    for place in places:
        if not place.site:
            out.append(place)
            continue
        same = by_site[place.site]
        names = POSITIONS.get(len(same), ("upper", *["middle"] * (len(same) - 2), "lower"))
        position = names[same.index(place.n)]
        words = ", ".join(filter(None, (site_words(place.site, place.route), position)))
        text = place.site_text if position == place.position else words
        changed = text if text.startswith(site_words(place.site, place.route)) else words
        out.append(msgspec.structs.replace(place, position=position, site_text=changed))
    return tuple(out)


def layout_of(tray: Tray) -> Layout:
    """The tray as the equipment room's checker reads it."""
    return Layout(
        places=tuple(_equipment(i, place) for i, place in enumerate(tray.tray)),
        policy=clinic_policy(),
    )


def _equipment(index: int, place: Place) -> PlaceEquipment:
    row = next((s for s in _rows_at(place.site) if s.spot in place.site_text), None)
    row = row or next(iter(_rows_at(place.site)), None)
    needle = None
    if place.needle is not None:
        needle = EquipmentNeedle(gauge=place.needle.gauge, length_mm=place.needle.length_mm)
    limb = None
    if row is not None and place.site is not None:
        limb = place.site[0] + ("T" if row.limb == "leg" else "A")
    return PlaceEquipment(
        dose=index,
        what=DoseToPlace(
            vaccine=vaccines()[place.vaccine],
            presentation=place.presentation,
            volume_ml=place.volume_ml,
            lot=place.lot,
            groups=place.groups,
        ),
        route=place.route,
        site=place.site,
        site_key=row.key if row else None,
        limb=limb,
        site_text=place.site_text,
        position=place.position,
        apart_mm=rules()["spacing-mm"].value,
        needle=needle,
        needle_missing=place.needle_missing,
        angle_deg=place.angle_deg,
        technique=place.technique,
        syringe=place.syringe,
        # The tray keeps the syringe as words only; its size was right when it was composed.
        syringe_ml=None if place.presentation == "prefilled" else place.volume_ml,
    )


def _rows_at(site: str | None) -> list:  # type: ignore[type-arg]
    return [row for row in sites().values() if site in (row.left, row.right)]


def choices_for(
    place: Place, need: Need, stock: Sequence[ShelfLot]
) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """Lines of the shelf that may serve here, and those that may not with the reason."""
    may, may_not = [], []
    for lot in stock:
        product = lot.product
        if product is None or lot.held or not set(product.groups) & set(place.groups):
            continue
        words = f"{product.key}, lot {lot.lot}, {lot.unit or 'unit not said'}, {lot.doses} left"
        found = fit(need, product, lot.presentation)
        if isinstance(found, Serving):
            may.append((lot_key(lot), words))
        elif isinstance(found, Refusal):
            may_not.append((words, found.why))
    return may, may_not
