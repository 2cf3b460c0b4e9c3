"""Writes a dose into the ledger and takes it off the shelf: both or neither, once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec
from django.db import IntegrityError, transaction
from django.utils import timezone

from traywise.tray.plan import Place
from traywise.workbench.asking.shelf_rows import product_of
from traywise.workbench.day.models import Appointment
from traywise.workbench.giving.checks import Stop
from traywise.workbench.ledger.models import GIVEN, LedgerEntry
from traywise.workbench.shelf.models import Lot, StockEntry
from traywise.workbench.shelf.stock import move


def press_key(visit: Appointment, laid: int, place: int, turn: int) -> str:
    """Names the press "place n of this tray is given"; a repeated press has the same name.

    turn  how often this place was undone before, so that it can be given again then
    """
    return f"give-{visit.pk}-{laid}-{place}-{turn}"


def record_dose(
    visit: Appointment,
    place: Place,
    lot: Lot,
    *,
    vial: int | None,
    key: str,
    by: Any,
    stops: Sequence[Stop] = (),
    reason: str = "",
) -> tuple[LedgerEntry, bool]:
    """The entry, and whether this press wrote it (False: it stood there already).

    Raises RefusedError when the lot has no dose left; then nothing is written.
    """
    before = LedgerEntry.objects.filter(key=key).first()
    if before is not None:
        return before, False
    try:
        with transaction.atomic():
            move(
                lot,
                -1,
                StockEntry.GIVEN,
                by=by,
                key=f"stock-{key}",
                note=f"{visit.child.record_id}, place {place.n}",
                vial=vial,
            )
            entry = LedgerEntry.append(
                key=key,
                kind=GIVEN,
                child=visit.child,
                visit=visit,
                lot=lot,
                by=by,
                body=_body(place, lot, stops, reason),
            )
    except IntegrityError:
        # Another worker wrote the same press between our look and our writing.
        before = LedgerEntry.objects.filter(key=key).first()
        if before is None:
            raise
        return before, False
    return entry, True


def _body(place: Place, lot: Lot, stops: Sequence[Stop], reason: str) -> dict[str, Any]:
    product = product_of(lot)
    body: dict[str, Any] = {
        "on": timezone.localdate().isoformat(),
        "at": timezone.localtime().isoformat(timespec="seconds"),
        "cvx": lot.cvx,
        "mvx": lot.mvx or None,
        "vaccine": product.key if product else place.vaccine,
        "name": product.name if product else place.name,
        "lot": lot.lot,
        "expires": lot.expires.isoformat(),
        "funding": lot.funding,
        "route": place.route,
        "site": place.site,
        "position": place.position,
        "site_text": place.site_text,
        "volume_ml": place.volume_ml,
        "needle": msgspec.to_builtins(place.needle),
        "groups": list(place.groups),
        "dose_numbers": place.dose_numbers,
        "place": place.n,
    }
    if stops:
        body["passed"] = [{"code": stop.code, "text": stop.text} for stop in stops]
        body["reason"] = reason
    return body
