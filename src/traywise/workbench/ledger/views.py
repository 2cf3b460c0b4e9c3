"""The ledger, newest first; one entry with its corrections; correcting."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from traywise.errors import RefusedError
from traywise.workbench.accounts.roles import needs
from traywise.workbench.audit.models import note
from traywise.workbench.audit.seen import note_seen
from traywise.workbench.day.events import tell, touch
from traywise.workbench.ledger.correcting import AlreadyUndone, change_dose, undo_dose
from traywise.workbench.ledger.effects import GivenDose, standing_doses
from traywise.workbench.ledger.forms import ChangeForm, UndoForm
from traywise.workbench.ledger.models import GIVEN, LedgerEntry
from traywise.workbench.ledger.words import lines_of
from traywise.workbench.shelf.presses import fresh_key, press_of

PER_PAGE = 50


@needs("look")
@require_GET
def ledger(request: HttpRequest) -> HttpResponse:
    entries = LedgerEntry.objects.select_related("child", "by", "corrects").order_by("-number")
    lot = request.GET.get("lot", "").strip()
    if lot:
        entries = entries.filter(lot__lot__iexact=lot)
    page = Paginator(entries, PER_PAGE).get_page(request.GET.get("page"))
    note(request, "saw the ledger", detail=f"leaf {page.number}" + (f", lot {lot}" if lot else ""))
    return render(request, "ledger/ledger.html", {"page": page, "lot": lot})


def _dose(entry: LedgerEntry) -> GivenDose | None:
    """The dose of an entry as it stands now."""
    if entry.kind != GIVEN:
        return None
    return standing_doses([entry, *entry.corrections.select_related("by")])[0]


@needs("look")
@require_GET
def entry(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(LedgerEntry.objects.select_related("child", "by", "visit"), pk=pk)
    note_seen(request, "a ledger entry", found.child.record_id)
    dose = _dose(found)
    for correction in dose.corrections if dose else ():
        correction.changed = lines_of(correction.body.get("fields", {}))
    context = {
        "entry": found,
        "dose": dose,
        "lines": lines_of(dose.body if dose else found.body | found.body.get("fields", {})),
        "first_lines": lines_of(found.body),
        "may_correct": request.user.may("correct"),
    }
    return render(request, "ledger/entry.html", context)


@needs("correct")
@require_http_methods(["GET", "POST"])
def correct(request: HttpRequest, pk: int, how: str) -> HttpResponse:
    """Write a correction: ``undo`` or ``change``."""
    found = get_object_or_404(
        LedgerEntry.objects.select_related("child", "lot", "visit"), pk=pk, kind=GIVEN
    )
    dose = _dose(found)
    assert dose is not None  # noqa: S101  the query asked for doses given
    data = request.POST if request.method == "POST" else None
    form: Any = UndoForm(data) if how == "undo" else ChangeForm(data, dose=dose)
    if request.method == "POST" and form.is_valid():
        try:
            _write(request, found, form)
        except AlreadyUndone:
            messages.warning(request, "This dose was undone already; nothing was changed.")
            return redirect("entry", pk)
        except RefusedError as error:
            form.add_error(None, " ".join(fault.text for fault in error.faults))
        else:
            return redirect("entry", pk)
    context = {
        "entry": found,
        "dose": dose,
        "form": form,
        "how": how,
        "key": request.POST.get("key") or fresh_key(),
    }
    return render(request, "ledger/correct.html", context)


def _write(request: HttpRequest, found: LedgerEntry, form: Any) -> None:
    data = form.cleaned_data
    key = f"correct-{found.pk}-{press_of(request)}"
    if isinstance(form, UndoForm):
        undo_dose(
            found,
            by=request.user,
            key=key,
            reason=data["reason"],
            back_on_shelf=data["back_on_shelf"],
        )
        words = "was not given"
    else:
        change_dose(
            found,
            by=request.user,
            key=key,
            reason=data["reason"],
            fields=form.changes(),
            lot=data["lot"],
        )
        words = "was corrected"
    messages.success(request, "Corrected by a new entry. The old one stays readable.")
    note(request, "corrected a dose", found.child.record_id, f"ledger {found.number} {words}")
    if found.visit:
        touch(found.visit)
        tell(found.visit.day, f"{found.child.name}: a dose {words}", request.user)
