"""The checks at the chairside, before a dose is confirmed. All run; none hides another.

They compare what was scanned with what was laid, and ask the rooms below whether the
product may be given now. No age and no interval stands here.
"""

from __future__ import annotations

from datetime import date

import msgspec
from django.utils import timezone

from traywise.record.child import Child
from traywise.tray.fit import Refusal
from traywise.tray.plan import Place
from traywise.workbench.accounts.roles import COORDINATOR, VACCINATOR
from traywise.workbench.asking.fitting import may_give, need_now
from traywise.workbench.asking.history import before_today
from traywise.workbench.asking.scans import Scanned
from traywise.workbench.asking.shelf_rows import name_of, open_vials, product_of, why_not
from traywise.workbench.day.models import Appointment
from traywise.workbench.shelf.models import Lot, OpenVial

NEVER = ""  # nobody passes this stop: something else must be done first


class Stop(msgspec.Struct, frozen=True, kw_only=True):
    """A mismatch: what, what to do instead, and which role may pass it with a reason."""

    code: str
    text: str
    way_out: str
    passed_by: str = COORDINATOR

    def may_be_passed_by(self, role: str) -> bool:
        """Whether this role may go on, with a reason recorded."""
        if self.passed_by == NEVER:
            return False
        return role == COORDINATOR or role == self.passed_by


class Checked(msgspec.Struct, frozen=True, kw_only=True):
    """The lot that was found, the open vial to take from, and every stop."""

    lot: Lot | None
    vial: OpenVial | None
    stops: tuple[Stop, ...]


def find_lot(scan: Scanned) -> Lot | None:
    """The lot of the shelf that was scanned; of several rows the one with doses that ends first."""
    if not scan.lot:
        return None
    lots = Lot.objects.prefetch_related("vials").filter(lot__iexact=scan.lot)
    if scan.gtin and lots.filter(gtin=scan.gtin).exists():
        lots = lots.filter(gtin=scan.gtin)
    found = sorted(lots, key=lambda lot: (lot.doses_left == 0, bool(lot.quarantined), lot.expires))
    return found[0] if found else None


def check_giving(
    visit: Appointment, child: Child, place: Place, scan: Scanned, agreed: frozenset[str]
) -> Checked:
    """All stops for giving what was scanned as this place of this visit's tray.

    child   the whole child, the doses given today included
    agreed  groups of the laid tray
    """
    lot = find_lot(scan)
    stops = [*_right_child(visit, child, scan)]
    if lot is None:
        stops.append(
            Stop(
                code="giving.S010",
                text=f"Lot {scan.lot or '?'} is not on the shelf.",
                way_out="Scan the vial on the tray, or receive this lot on the shelf page first.",
                passed_by=NEVER,
            )
        )
        return Checked(lot=None, vial=None, stops=tuple(stops))
    vial = next((v for v in open_vials(lot) if not v.is_over and v.doses_left > 0), None)
    stops += _right_product(lot, place)
    stops += _right_lot(lot, place, scan)
    stops += _usable(lot, vial)
    stops += _right_time(visit, child, lot, agreed)
    return Checked(lot=lot, vial=vial, stops=tuple(stops))


def _right_child(visit: Appointment, child: Child, scan: Scanned) -> list[Stop]:
    if scan.child is None or scan.child == child.id:
        return []
    return [
        Stop(
            code="giving.S001",
            text=f"This label is of another child ({scan.child}), not of {visit.child.name}.",
            way_out="Put it back on the other tray. Ask name and date of birth again.",
            passed_by=NEVER,
        )
    ]


def _right_product(lot: Lot, place: Place) -> list[Stop]:
    product = product_of(lot)
    if product is not None and product.key == place.vaccine:
        return []
    return [
        Stop(
            code="giving.S011",
            text=f"This is {name_of(lot)}. Place {place.n} is {place.name}.",
            way_out=f"Scan {place.name}, lot {place.lot or 'as laid'}.",
        )
    ]


def _right_lot(lot: Lot, place: Place, scan: Scanned) -> list[Stop]:
    stops = []
    if place.lot and lot.lot.casefold() != place.lot.casefold():
        stops.append(
            Stop(
                code="giving.S012",
                text=f"This is lot {lot.lot}; lot {place.lot} was laid.",
                way_out=f"Take the vial of lot {place.lot}. If this one is meant, say why.",
                passed_by=VACCINATOR,
            )
        )
    if scan.expires is not None and scan.expires != lot.expires:
        stops.append(
            Stop(
                code="giving.S013",
                text=f"The vial says use by {scan.expires}, the shelf says {lot.expires}.",
                way_out="Set the lot apart and correct the shelf; take another vial.",
            )
        )
    return stops


def _usable(lot: Lot, vial: OpenVial | None) -> list[Stop]:
    """Not expired, not set apart, not past its discard time, not empty: as the shelf room says."""
    over = [v for v in open_vials(lot) if v.is_over and v.doses_left > 0]
    stops = [
        Stop(
            code="giving.S015",
            text=f"An open vial of lot {lot.lot} is past its discard time "
            f"({timezone.localtime(v.discard_at):%Y-%m-%d %H:%M}).",
            way_out="Discard it on the shelf page and take an unopened one.",
        )
        for v in over
        if vial is None
    ]
    reason = why_not(lot, vial)
    if reason is not None:
        stops.append(
            Stop(
                code="giving.S014",
                text=f"Lot {lot.lot} may not be used: {reason}.",
                way_out="Put it apart and take another lot.",
                passed_by=NEVER if lot.doses_left < 1 else COORDINATOR,
            )
        )
    return stops


def _right_time(visit: Appointment, child: Child, lot: Lot, agreed: frozenset[str]) -> list[Stop]:
    """Right age, right interval, nothing against it: the tray room's own judgement, today."""
    product = product_of(lot)
    today: date = timezone.localdate()
    if visit.day != today:
        return [
            Stop(
                code="giving.S020",
                text=f"This tray is of {visit.day}; today is {today}.",
                way_out="Give the child a place on today's board and lay the tray anew.",
                passed_by=NEVER,
            )
        ]
    if product is None:
        return []
    found = may_give(need_now(before_today(child, today), today, agreed), product, lot.presentation)
    if found is None:
        return [
            Stop(
                code="giving.S021",
                text=f"{product.name} covers nothing that is due today.",
                way_out="Look at the tray again.",
            )
        ]
    if isinstance(found, Refusal):
        until = f" (from {found.until})" if found.until else ""
        return [
            Stop(
                code=f"giving.S022.{found.kind}",
                text=f"Not now: {found.why}{until}.",
                way_out="Look at the tray again; lay it anew if the record changed.",
            )
        ]
    return []
