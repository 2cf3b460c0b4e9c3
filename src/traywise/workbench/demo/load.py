"""The demo's children, lots and supplies as records, appointments and stock of today."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.db import transaction
from django.utils import timezone

from traywise.demo import demo_children, demo_shelf, demo_supplies
from traywise.shelf.discard import discard_time
from traywise.shelf.lot import Lot as ShelfLot
from traywise.workbench.accounts.models import Staff
from traywise.workbench.accounts.roles import COORDINATOR, READER, RECEPTION, VACCINATOR
from traywise.workbench.asking.shelf_rows import zone
from traywise.workbench.asking.trays import plan_day_together
from traywise.workbench.children.models import new_child
from traywise.workbench.day.events import tell
from traywise.workbench.day.models import Appointment
from traywise.workbench.shelf.models import Lot, OpenVial, StockEntry, Supply
from traywise.workbench.shelf.stock import move

PASSWORD = "demo clinic only"  # noqa: S105 - shown on the demo's sign-in page
PEOPLE = (
    ("marlowe", "I. Marlowe", VACCINATOR),
    ("okonvale", "T. Okonvale", COORDINATOR),
    ("ferrant", "B. Ferrant", RECEPTION),
    ("quist", "L. Quist", READER),
)


def load_demo_clinic(today: date | None = None) -> None:
    """Staff, shelf, supplies and the day's children; all or nothing."""
    day = today or timezone.localdate()
    with transaction.atomic():
        staff = [
            Staff.objects.create_user(name, PASSWORD, full_name=full, role=role)
            for name, full, role in PEOPLE
        ]
        load_lots(demo_shelf(day), staff[1])
        for line in demo_supplies():
            Supply.objects.create(
                item=line.item,
                gauge=line.gauge,
                length_mm=line.length_mm,
                volume_ml=line.volume_ml,
                count=line.count,
                expires=line.expires,
            )
        for child in demo_children(day):
            Appointment.objects.create(
                child=new_child(child), day=day, time=child.appointment or ""
            )
        plan_day_together(day)
        tell(day, "The demo clinic was set up", staff[1])


def load_lots(lines: Iterable[ShelfLot], by: Staff) -> None:
    """Lines of a shelf file as lots with their first entries; open vials with their clocks."""
    for number, line in enumerate(lines):
        if line.expires is None:
            continue
        lot, _ = Lot.objects.get_or_create(
            lot=line.lot,
            cvx=line.cvx,
            funding=line.funding,
            unit=line.unit,
            defaults={
                "vaccine": line.vaccine or (line.product.key if line.product else ""),
                "mvx": line.mvx or "",
                "presentation": line.presentation,
                "expires": line.expires,
                "gtin": line.extra.get("gtin", ""),
                "doses_per_vial": line.doses_per_vial
                or (line.product.multidose_doses if line.product else None),
                "quarantined": line.held,
            },
        )
        if line.doses:
            move(lot, line.doses, StockEntry.RECEIVED, by=by, key=f"demo-{number}-{lot.lot}")
        if line.opened_at is not None and line.product is not None:
            limit = (
                line.discard_at
                or discard_time(
                    line.product, line.presentation, line.opened_at, line.expires, zone=zone()
                ).at
            )
            OpenVial.objects.create(
                lot=lot, opened_at=line.opened_at, discard_at=limit, doses_left=line.doses
            )
