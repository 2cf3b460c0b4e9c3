"""The clinic's lots and supplies as the rooms below know them: unopened doses, each open vial,
each box of needles, syringes and the rest."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils import timezone

from traywise.equipment.place import SupplyOnHand
from traywise.rulebook.vaccines import Vaccine, vaccines, vaccines_by_cvx
from traywise.shelf.discard import DiscardTime, discard_time
from traywise.shelf.lot import Lot as ShelfLot
from traywise.shelf.usable import why_not_usable
from traywise.workbench.shelf.models import Lot, OpenVial, Supply


def zone() -> ZoneInfo:
    """The clinic's time zone."""
    return ZoneInfo(settings.TIME_ZONE)


def shelf_lot(lot: Lot, doses: int, vial: OpenVial | None = None) -> ShelfLot:
    """One line of the shelf."""
    return ShelfLot(
        lot=lot.lot,
        cvx=lot.cvx,
        mvx=lot.mvx or None,
        presentation=lot.presentation,
        doses=doses,
        expires=lot.expires,
        funding=lot.funding,
        unit=lot.unit,
        held=f"set apart: {lot.quarantined}" if lot.quarantined else "",
        vaccine=lot.vaccine,
        doses_per_vial=lot.doses_per_vial,
        opened_at=vial.opened_at if vial else None,
        discard_at=vial.discard_at if vial else None,
        extra={"gtin": lot.gtin} if lot.gtin else {},
    )


def open_vials(lot: Lot) -> list[OpenVial]:
    """Vials in use, from the prefetched relation."""
    return [vial for vial in lot.vials.all() if vial.closed_at is None]


def lines_of(lot: Lot) -> list[ShelfLot]:
    """Open vials first, then what is unopened."""
    vials = open_vials(lot)
    rest = lot.doses_left - sum(vial.doses_left for vial in vials)
    lines = [shelf_lot(lot, vial.doses_left, vial) for vial in vials]
    if rest > 0 or not lines:
        lines.append(shelf_lot(lot, max(0, rest)))
    return lines


def whole_shelf() -> tuple[ShelfLot, ...]:
    """All lots that hold doses."""
    lots = Lot.objects.filter(doses_left__gt=0).prefetch_related("vials")
    return tuple(line for lot in lots for line in lines_of(lot))


def product_of(lot: Lot) -> Vaccine | None:
    """The product of a lot."""
    return vaccines().get(lot.vaccine) or vaccines_by_cvx().get(lot.cvx)


def name_of(lot: Lot) -> str:
    """What the trade calls it; the code when the product is unknown."""
    product = product_of(lot)
    return product.key if product else f"CVX {lot.cvx}"


def why_not_now(lot: ShelfLot, on: date) -> str | None:
    """Why a line of the shelf may not be used on a day, today at this hour; None: it may."""
    now = timezone.now() if on == timezone.localdate() else None
    return why_not_usable(lot, on, now, zone())


def why_not(lot: Lot, vial: OpenVial | None = None) -> str | None:
    """Why this lot or open vial may not be used now; None when it may."""
    doses = vial.doses_left if vial else lot.doses_left
    return why_not_usable(shelf_lot(lot, doses, vial), timezone.localdate(), timezone.now(), zone())


def discard_of(lot: Lot, opened_at: datetime) -> DiscardTime | None:
    """When a vial of this lot opened then must go; None for an unknown product."""
    product = product_of(lot)
    if product is None:
        return None
    return discard_time(product, lot.presentation, opened_at, lot.expires, zone=zone())


def supply_on_hand(row: Supply) -> SupplyOnHand:
    """One counted box as the equipment room reads it."""
    return SupplyOnHand(
        item=row.item,
        count=row.count,
        gauge=row.gauge,
        length_mm=row.length_mm,
        volume_ml=row.volume_ml,
        expires=row.expires,
    )
