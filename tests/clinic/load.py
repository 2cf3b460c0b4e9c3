"""A small invented clinic for the tests, steadier than the demo: loaded into an empty database.

The tests name its children and lots, so that a change of the demo changes no test.
"""

from __future__ import annotations

import tomllib
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from django.db import transaction
from django.utils import timezone

from traywise.calendar import Span, add, parse_span
from traywise.record.child import Child, Condition, CvxCode, DoseGiven
from traywise.workbench.accounts.models import Staff
from traywise.workbench.accounts.roles import COORDINATOR, READER, RECEPTION, VACCINATOR
from traywise.workbench.children.models import new_child
from traywise.workbench.day.events import tell
from traywise.workbench.day.models import Appointment
from traywise.workbench.shelf.models import Lot, StockEntry, Supply
from traywise.workbench.shelf.stock import move

PASSWORD = "demo clinic only"
PEOPLE = (
    ("marlowe", "I. Marlowe", VACCINATOR),
    ("okonvale", "T. Okonvale", COORDINATOR),
    ("ferrant", "B. Ferrant", RECEPTION),
    ("quist", "L. Quist", READER),
)


def load_test_clinic(today: date | None = None) -> None:
    """Staff, shelf, supplies and the day's children; all or nothing."""
    day = today or timezone.localdate()
    data = tomllib.loads((Path(__file__).parent / "invented.toml").read_text(encoding="utf-8"))
    with transaction.atomic():
        staff = [
            Staff.objects.create_user(name, PASSWORD, full_name=full, role=role)
            for name, full, role in PEOPLE
        ]
        for row in data["lot"]:
            _load_lot(row, day, staff[1])
        for row in data["supply"]:
            Supply.objects.create(**row)
        for row in data["child"]:
            record = new_child(read_child(row, day))
            Appointment.objects.create(child=record, day=day, time=row["time"])
        tell(day, "The demo clinic was set up", staff[1])


def _load_lot(row: dict[str, Any], day: date, by: Staff) -> None:
    lot = Lot.objects.create(
        lot=row["lot"],
        cvx=row["cvx"],
        vaccine=row["product"],
        presentation=row["presentation"],
        expires=add(day, parse_span(row["expires"])),
        unit=row["unit"],
        gtin=row.get("gtin", ""),
        doses_per_vial=row.get("doses_per_vial"),
        quarantined=row.get("quarantined", ""),
    )
    move(lot, row["doses"], StockEntry.RECEIVED, by=by, key=f"demo-{lot.lot}-{lot.pk}")


def read_child(row: dict[str, Any], day: date) -> Child:
    """One child of the file, its dates counted back from ``day``."""
    age = parse_span(row["age"])
    born = add(day - timedelta(days=age.days), Span(months=-age.months))
    doses = tuple(
        DoseGiven(on=add(born, parse_span(when)), cvx=CvxCode(cvx))
        for cvx, _, when in (text.partition(" at ") for text in row["doses"])
    )
    names = ("id", "name", "sex", "gestation_weeks", "birth_weight_g", "weight_kg")
    known = {name: row[name] for name in names if name in row}
    return Child(
        **known,
        born=born,
        weighed_on=day if "weight_kg" in row else None,
        doses=doses,
        conditions=tuple(_condition(item, day) for item in row.get("conditions", ())),
        appointment=row["time"],
    )


def _condition(item: dict[str, str], day: date) -> Condition:
    def ago(text: str | None) -> date | None:
        return day - timedelta(days=int(text.split()[0])) if text else None

    return Condition(key=item["key"], since=ago(item.get("from")), until=ago(item.get("until")))
