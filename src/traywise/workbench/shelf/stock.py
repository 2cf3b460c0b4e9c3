"""Moves stock: the movement and the count change together or not at all."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.db.models import F, Sum
from django.utils import timezone

from traywise.errors import Fault, RefusedError
from traywise.workbench.shelf.models import Lot, OpenVial, StockEntry


def move(
    lot: Lot, delta: int, reason: str, *, by: Any, key: str, note: str = "", vial: int | None = None
) -> StockEntry:
    """Add an entry of ``delta`` doses; raises RefusedError when so many are not there.

    ``key`` names the press: the same press twice gives the first entry back. ``vial``
    takes the doses out of that open vial as well.
    """
    with transaction.atomic():
        before = StockEntry.objects.filter(key=key).first()
        if before is not None:
            return before
        # One statement tests and takes, so two people never take the same last dose.
        took = Lot.objects.filter(pk=lot.pk, doses_left__gte=-delta).update(
            doses_left=F("doses_left") + delta, changed_at=timezone.now()
        )
        if not took:
            raise RefusedError([_not_enough(lot, -delta)])
        if vial is not None and delta < 0:
            _take_from_vial(lot, vial, -delta)
        return StockEntry.objects.create(
            lot=lot, delta=delta, reason=reason, by=by, key=key, note=note
        )


def _take_from_vial(lot: Lot, vial: int, doses: int) -> None:
    row = OpenVial.objects.filter(pk=vial, lot=lot, closed_at=None, doses_left__gte=doses)
    if not row.update(doses_left=F("doses_left") - doses):
        raise RefusedError([_not_enough(lot, doses)])
    OpenVial.objects.filter(pk=vial, doses_left=0).update(closed_at=timezone.now())


def _not_enough(lot: Lot, doses: int) -> Fault:
    left = Lot.objects.filter(pk=lot.pk).values_list("doses_left", flat=True).first() or 0
    return Fault(
        "workbench.E020",
        f"lot {lot.lot}",
        f"{doses} wanted, {left} left. Scan another lot, or count this one on the shelf page.",
    )


def count_again(lot: Lot, found: int, *, by: Any, key: str, note: str = "") -> StockEntry | None:
    """Bring the count to what was found; None when it already was."""
    with transaction.atomic():
        current = Lot.objects.select_for_update().get(pk=lot.pk)
        delta = found - current.doses_left
        if delta == 0:
            return None
        return move(current, delta, StockEntry.COUNTED, by=by, key=key, note=note)


def sum_of_entries(lot: Lot) -> int:
    """What the entries add up to: the count must say the same."""
    return int(StockEntry.objects.filter(lot=lot).aggregate(total=Sum("delta"))["total"] or 0)
