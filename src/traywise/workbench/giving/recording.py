"""Writes a dose into the ledger and takes it off the shelf: both or neither, once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec
from django.db import IntegrityError, transaction
from django.utils import timezone

from traywise.tray.plan import Place
from traywise.workbench.asking.shelf_rows import discard_of, product_of
from traywise.workbench.day.models import Appointment
from traywise.workbench.giving.checks import Stop
from traywise.workbench.ledger.models import GIVEN, LedgerEntry
from traywise.workbench.shelf.models import Lot, OpenVial, StockEntry
from traywise.workbench.shelf.stock import move

MANY_DOSES = ("multidose", "ampoule")


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
            _take_from_shelf(lot, f"{visit.child.record_id}, place {place.n}", by, key)
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


def _take_from_shelf(lot: Lot, note: str, by: Any, key: str) -> None:
    """One dose, from the open vial where there is one; the first of a multidose vial opens it."""
    # The lot's row is the lock, so that two people never open a vial for the same dose.
    locked = Lot.objects.select_for_update().get(pk=lot.pk)
    vials = list(OpenVial.objects.filter(lot=locked, closed_at=None))
    vial = next((v for v in vials if v.doses_left > 0 and not v.is_over), None)
    before = StockEntry.objects.filter(key=f"stock-{key}").exists()
    move(
        locked,
        -1,
        StockEntry.GIVEN,
        by=by,
        key=f"stock-{key}",
        note=note,
        vial=vial.pk if vial else None,
    )
    if vial is None and not before and locked.presentation in MANY_DOSES:
        unopened = locked.doses_left - sum(v.doses_left for v in vials)
        _open_vial(locked, min(unopened, locked.doses_per_vial or 1) - 1)


def _open_vial(lot: Lot, rest: int) -> None:
    """What is left in a vial that was just opened, with its clock."""
    now = timezone.now()
    limit = discard_of(lot, now)
    if rest > 0 and limit is not None:
        OpenVial.objects.create(lot=lot, opened_at=now, discard_at=limit.at, doses_left=rest)


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
