"""The shelf: lots by expiry, open vials with clocks, and each movement with its form."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from traywise.equipment.in_date import is_expired
from traywise.equipment.supplies import describe_item
from traywise.errors import RefusedError
from traywise.workbench.accounts.roles import needs
from traywise.workbench.asking.scans import read_scan
from traywise.workbench.asking.shelf_rows import (
    discard_of,
    name_of,
    open_vials,
    supply_on_hand,
    why_not,
)
from traywise.workbench.audit.models import note
from traywise.workbench.shelf.forms import (
    CountForm,
    OrderForm,
    QuarantineForm,
    ReceiveForm,
    SupplyForm,
    WasteForm,
)
from traywise.workbench.shelf.models import Lot, OpenVial, StockEntry, Supply
from traywise.workbench.shelf.order import order_list
from traywise.workbench.shelf.presses import fresh_key, press_of
from traywise.workbench.shelf.stock import count_again, move

SOON_DAYS = 30  # a line of this page: what ends within a month is marked


def _lot_line(lot: Lot) -> dict[str, Any]:
    days = (lot.expires - timezone.localdate()).days
    return {
        "lot": lot,
        "name": name_of(lot),
        "why_not": why_not(lot) if lot.doses_left or lot.quarantined else None,
        "days": days,
        "soon": 0 <= days <= SOON_DAYS and lot.doses_left > 0,
    }


def _supply_line(row: Supply) -> dict[str, Any]:
    at_hand, today = supply_on_hand(row), timezone.localdate()
    days = None if row.expires is None else (row.expires - today).days
    return {
        "supply": row,
        "name": describe_item(at_hand),
        "days": days,
        "over": is_expired(at_hand, today),
        "soon": days is not None and 0 <= days <= SOON_DAYS and row.count > 0,
    }


def _supply_context(kind: str, everything: bool) -> dict[str, Any]:
    """The boxes of one kind, or of all; an expired one that is used up or thrown away goes."""
    lines = [_supply_line(row) for row in Supply.objects.all()]
    shown = [line for line in lines if everything or line["supply"].count or not line["over"]]
    kinds = list(dict.fromkeys(line["supply"].item for line in shown))
    if kind in kinds:
        shown = [line for line in shown if line["supply"].item == kind]
    return {"supplies": shown, "kinds": kinds, "kind": kind if kind in kinds else ""}


@needs("look")
@require_GET
def shelf(request: HttpRequest) -> HttpResponse:
    lots = Lot.objects.prefetch_related("vials")
    everything = request.GET.get("all") == "1"
    if not everything:
        lots = lots.filter(doses_left__gt=0)
    vials = OpenVial.objects.filter(closed_at=None).select_related("lot")
    context = {
        "lines": [_lot_line(lot) for lot in lots],
        "vials": [{"vial": vial, "name": name_of(vial.lot)} for vial in vials],
        "everything": everything,
    } | _supply_context(request.GET.get("item", ""), everything)
    return render(request, "shelf/shelf.html", context)


@needs("keep the shelf")
@require_http_methods(["GET", "POST"])
def receive(request: HttpRequest) -> HttpResponse:
    """Doses come in: by scan, which fills the form, or typed."""
    initial: dict[str, Any] = {}
    scan_fault = ""
    if scanned := request.GET.get("scan", ""):
        initial, scan_fault = _from_scan(scanned)
    form = ReceiveForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        lot = _receive(request, form)
        messages.success(
            request,
            f"{form.cleaned_data['doses']} doses of {name_of(lot)}, lot {lot.lot}, received.",
        )
        return redirect("receive")
    key = request.POST.get("key") or fresh_key()
    context = {"form": form, "key": key, "scan_fault": scan_fault, "scanned": scanned}
    return render(request, "shelf/receive.html", context)


def _from_scan(scanned: str) -> tuple[dict[str, Any], str]:
    """What a scan says, and what an earlier lot of the same GTIN tells about the product."""
    scan = read_scan(scanned)
    if scan.fault:
        return {}, scan.fault
    initial: dict[str, Any] = {
        "lot": scan.lot or "",
        "gtin": scan.gtin or "",
        "expires": scan.expires.isoformat() if scan.expires else "",
    }
    known = Lot.objects.filter(gtin=scan.gtin).order_by("-pk").first() if scan.gtin else None
    if known is not None:
        initial |= {
            "product": f"{known.vaccine} {known.cvx}",
            "presentation": known.presentation,
            "funding": known.funding,
            "unit": known.unit,
            "doses_per_vial": known.doses_per_vial,
        }
    return initial, ""


def _receive(request: HttpRequest, form: ReceiveForm) -> Lot:
    data = form.cleaned_data
    with transaction.atomic():
        lot = form.same_lot()
        if lot is None:
            lot = form.save(commit=False)
            lot.vaccine, lot.cvx, lot.expires = data["vaccine"], data["cvx"], data["expires"]
            lot.save()
        move(
            lot,
            data["doses"],
            StockEntry.RECEIVED,
            by=request.user,
            key=f"receive-{lot.pk}-{press_of(request)}",
        )
        note(request, "received doses", detail=f"{data['doses']} of lot {lot.lot}")
    return lot


@needs("look")
@require_GET
def lot(request: HttpRequest, pk: int) -> HttpResponse:
    return _lot_page(request, get_object_or_404(Lot.objects.prefetch_related("vials"), pk=pk))


def _lot_page(
    request: HttpRequest, lot_: Lot, bad: dict[str, forms.Form] | None = None
) -> HttpResponse:
    context = {
        "line": _lot_line(lot_),
        "lot": lot_,
        "vials": open_vials(lot_),
        "entries": lot_.entries.select_related("by")[:40],
        "key": fresh_key(),
        "count_form": CountForm(initial={"found": lot_.doses_left}),
        "waste_form": WasteForm(),
        "quarantine_form": QuarantineForm(),
    } | (bad or {})
    return render(request, "shelf/lot.html", context, status=400 if bad else 200)


@needs("keep the shelf")
@require_POST
def lot_move(request: HttpRequest, pk: int, what: str) -> HttpResponse:
    """One movement of a lot: count, waste, apart, release, open, close."""
    lot_ = get_object_or_404(Lot.objects.prefetch_related("vials"), pk=pk)
    deed = DEEDS.get(what)
    if deed is None:
        raise Http404
    try:
        bad = deed(request, lot_)
    except RefusedError as error:
        messages.error(request, "; ".join(fault.text for fault in error.faults))
        bad = None
    return _lot_page(request, lot_, bad) if bad else redirect("lot", pk)


def _count(request: HttpRequest, lot_: Lot) -> dict[str, forms.Form] | None:
    form = CountForm(request.POST)
    if not form.is_valid():
        return {"count_form": form}
    data = form.cleaned_data
    key = f"count-{lot_.pk}-{press_of(request)}"
    entry = count_again(lot_, data["found"], by=request.user, key=key, note=data["note"])
    note(request, "counted a lot", detail=f"lot {lot_.lot}: {data['found']} found")
    messages.success(
        request, f"Counted: {entry.delta:+d}." if entry else "Counted: as many as expected."
    )
    return None


def _waste(request: HttpRequest, lot_: Lot) -> dict[str, forms.Form] | None:
    form = WasteForm(request.POST)
    if not form.is_valid():
        return {"waste_form": form}
    data = form.cleaned_data
    move(
        lot_,
        -data["doses"],
        StockEntry.WASTED,
        by=request.user,
        key=f"waste-{lot_.pk}-{press_of(request)}",
        note=data["note"],
    )
    note(request, "wasted doses", detail=f"{data['doses']} of lot {lot_.lot}: {data['note']}")
    messages.success(request, f"{data['doses']} written off.")
    return None


def _apart(request: HttpRequest, lot_: Lot) -> dict[str, forms.Form] | None:
    form = QuarantineForm(request.POST)
    if not form.is_valid():
        return {"quarantine_form": form}
    Lot.objects.filter(pk=lot_.pk).update(
        quarantined=form.cleaned_data["why"], changed_at=timezone.now()
    )
    note(request, "set a lot apart", detail=f"lot {lot_.lot}: {form.cleaned_data['why']}")
    messages.warning(request, "Set apart. Mark it, keep it cold, use none of it.")
    return None


def _release(request: HttpRequest, lot_: Lot) -> None:
    if not request.user.may("override"):
        messages.error(request, "Only a coordinator releases a lot.")
        return
    Lot.objects.filter(pk=lot_.pk).update(quarantined="", changed_at=timezone.now())
    note(request, "released a lot", detail=f"lot {lot_.lot}, was: {lot_.quarantined}")
    messages.success(request, "Released: it may be used again.")


def _open(request: HttpRequest, lot_: Lot) -> None:
    """A vial is pierced or mixed now: its clock starts."""
    now = timezone.now()
    limit = discard_of(lot_, now)
    free = lot_.doses_left - sum(vial.doses_left for vial in open_vials(lot_))
    if limit is None or free < 1:
        messages.error(request, "No unopened vial of a known product is left in this lot.")
        return
    with transaction.atomic():
        OpenVial.objects.create(
            lot=lot_,
            opened_at=now,
            discard_at=limit.at,
            doses_left=min(free, lot_.doses_per_vial or 1),
        )
        Lot.objects.filter(pk=lot_.pk).update(changed_at=now)
    note(request, "opened a vial", detail=f"lot {lot_.lot}, until {limit.at:%Y-%m-%d %H:%M}")
    messages.success(request, f"Open. Discard at {limit.at:%H:%M on %Y-%m-%d}: {limit.why}.")


def _close(request: HttpRequest, lot_: Lot) -> None:
    """An open vial goes: what is left in it is written off."""
    wanted = request.POST.get("vial", "")
    vial = next((v for v in open_vials(lot_) if str(v.pk) == wanted), None)
    if vial is None:
        raise Http404
    left = vial.doses_left
    with transaction.atomic():
        if left:
            move(
                lot_,
                -left,
                StockEntry.WASTED,
                by=request.user,
                key=f"close-vial-{vial.pk}",
                note="rest of an open vial",
                vial=vial.pk,
            )
        OpenVial.objects.filter(pk=vial.pk).update(closed_at=timezone.now())
        Lot.objects.filter(pk=lot_.pk).update(changed_at=timezone.now())
    note(request, "closed a vial", detail=f"lot {lot_.lot}, {left} left in it")
    messages.success(request, f"Closed; {left} written off.")


DEEDS: dict[str, Callable[[HttpRequest, Lot], dict[str, forms.Form] | None]] = {
    "count": _count,
    "waste": _waste,
    "apart": _apart,
    "release": _release,
    "open": _open,
    "close": _close,
}


@needs("keep the shelf")
@require_http_methods(["GET", "POST"])
def supply(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    row = get_object_or_404(Supply, pk=pk) if pk else None
    form = SupplyForm(request.POST or None, instance=row)
    if request.method == "POST" and form.is_valid():
        kept = form.save()
        box = describe_item(supply_on_hand(kept))
        by = f", use by {kept.expires}" if kept.expires else ""
        note(request, "counted supplies", detail=f"{box}{by}: {kept.count}")
        messages.success(request, "Counted.")
        return redirect("shelf")
    return render(request, "shelf/supply.html", {"form": form, "supply": row})


@needs("look")
@require_GET
def order(request: HttpRequest) -> HttpResponse:
    form = OrderForm(request.GET if "every" in request.GET else {"every": 14, "lead": 7})
    lines = (
        order_list(form.cleaned_data["every"], form.cleaned_data["lead"]) if form.is_valid() else []
    )
    return render(request, "shelf/order.html", {"form": form, "lines": lines})
