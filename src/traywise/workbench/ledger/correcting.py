"""Corrections: a new entry that says what the old one should have said; stock follows."""

from __future__ import annotations

from typing import Any

from django.db import IntegrityError, transaction

from traywise.workbench.ledger.models import CORRECTED, REACTION, LedgerEntry
from traywise.workbench.shelf.models import Lot, StockEntry
from traywise.workbench.shelf.stock import move


def undo_dose(
    entry: LedgerEntry, *, by: Any, key: str, reason: str, back_on_shelf: bool
) -> LedgerEntry:
    """The dose was not given. It goes back, or it was drawn up and is written off."""

    def change_stock() -> None:
        _stand_still(entry)
        lot = _current_lot(entry)
        note = f"ledger {entry.number} was not given"
        move(lot, 1, StockEntry.RETURNED, by=by, key=f"{key}-back", note=note)
        if not back_on_shelf:
            move(lot, -1, StockEntry.WASTED, by=by, key=f"{key}-waste", note=reason[:200])

    body = {"undone": True, "reason": reason, "back_on_shelf": back_on_shelf}
    return _correct(entry, by=by, key=key, body=body, change_stock=change_stock)


def change_dose(
    entry: LedgerEntry,
    *,
    by: Any,
    key: str,
    reason: str,
    fields: dict[str, Any],
    lot: Lot | None = None,
) -> LedgerEntry:
    """The dose was given otherwise than written. Another lot moves the stock of both."""

    def change_stock() -> None:
        _stand_still(entry)
        old = _current_lot(entry)
        if lot is not None and lot.pk != old.pk:
            note = f"ledger {entry.number} was lot {lot.lot}"
            move(old, 1, StockEntry.RETURNED, by=by, key=f"{key}-back", note=note)
            move(lot, -1, StockEntry.GIVEN, by=by, key=f"{key}-take", note=note)

    more = dict(fields)
    if lot is not None:
        more |= {"lot": lot.lot, "lot_row": lot.pk, "expires": lot.expires.isoformat()}
    body = {"fields": more, "reason": reason}
    return _correct(entry, by=by, key=key, body=body, change_stock=change_stock)


def note_reaction(visit: Any, *, by: Any, key: str, body: dict[str, Any]) -> LedgerEntry:
    """What was seen after the doses of a visit."""
    before = LedgerEntry.objects.filter(key=key).first()
    if before is not None:
        return before
    return LedgerEntry.append(
        key=key, kind=REACTION, child=visit.child, visit=visit, by=by, body=body
    )


def _current_lot(entry: LedgerEntry) -> Lot:
    """The lot the dose counts against now, earlier corrections included."""
    for correction in entry.corrections.order_by("-number"):
        row = correction.body.get("fields", {}).get("lot_row")
        if row is not None:
            return Lot.objects.get(pk=row)
    assert entry.lot is not None  # noqa: S101  a dose given always has its lot
    return entry.lot


class AlreadyUndone(Exception):  # noqa: N818 - a state, told to the person
    """The dose does not stand any more; there is nothing to correct."""


def _stand_still(entry: LedgerEntry) -> None:
    if any(c.body.get("undone") for c in entry.corrections.all()):
        raise AlreadyUndone


def _correct(
    entry: LedgerEntry, *, by: Any, key: str, body: dict[str, Any], change_stock: Any
) -> LedgerEntry:
    before = LedgerEntry.objects.filter(key=key).first()
    if before is not None:
        return before
    try:
        with transaction.atomic():
            if entry.lot_id:
                # The lot's row is the lock: two corrections of one dose follow each other.
                Lot.objects.select_for_update().get(pk=entry.lot_id)
            change_stock()
            return LedgerEntry.append(
                key=key,
                kind=CORRECTED,
                child=entry.child,
                visit=entry.visit,
                lot=entry.lot,
                corrects=entry,
                by=by,
                body=body,
            )
    except IntegrityError:
        found = LedgerEntry.objects.filter(key=key).first()
        if found is None:
            raise
        return found
