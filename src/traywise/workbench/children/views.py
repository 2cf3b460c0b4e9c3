"""Find, add and change a child; the child's page with history, timeline and what comes next."""

from __future__ import annotations

from datetime import date
from typing import Any

import msgspec
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from traywise.calendar import age_on
from traywise.errors import TraywiseError
from traywise.record.child import DoseGiven
from traywise.rulebook.codes import cvx_codes
from traywise.schedule.answer import Answer, GroupForecast
from traywise.workbench.accounts.roles import needs
from traywise.workbench.asking.answers import answer_for
from traywise.workbench.asking.history import whole_child
from traywise.workbench.audit.models import note
from traywise.workbench.audit.seen import note_seen
from traywise.workbench.children.condition_days import changes_in_words, line_of
from traywise.workbench.children.forms import ChildForm, PastDoseForm
from traywise.workbench.children.models import ChildRecord, new_child
from traywise.workbench.children.timeline import timeline_svg
from traywise.workbench.ledger.models import LedgerEntry

PER_PAGE = 40
MEANWHILE = "Somebody changed this child meanwhile. Look at it again, then send yours once more."


@needs("look")
@require_GET
def children(request: HttpRequest) -> HttpResponse:
    """Search by part of the name, id, or date of birth."""
    text = request.GET.get("q", "").strip()
    found = ChildRecord.objects.all()
    if text:
        try:
            found = found.filter(born=date.fromisoformat(text))
        except ValueError:
            found = found.filter(name__icontains=text) | found.filter(record_id__iexact=text)
    page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    if text:
        note(request, "searched children", detail=text)
    else:
        note_seen(request, "the list of children", "")
    context = {"page": page, "q": text, "day": request.GET.get("day", "")}
    return render(request, "children/children.html", context)


@needs("receive children")
@require_http_methods(["GET", "POST"])
def child_new(request: HttpRequest) -> HttpResponse:
    form = ChildForm(request.POST or None)
    if request.method == "POST" and form.is_valid() and form.child is not None:
        record = new_child(form.child)
        note(request, "added a child", record.record_id)
        _tell(request, f"{record.name} is on record.", form.warnings)
        return redirect("child", record.pk)
    return render(request, "children/child_form.html", {"form": form})


@needs("receive children")
@require_http_methods(["GET", "POST"])
def child_edit(request: HttpRequest, pk: int) -> HttpResponse:
    record = get_object_or_404(ChildRecord, pk=pk)
    form = ChildForm(request.POST or None, kept=record.read())
    if request.method == "POST" and form.is_valid() and form.child is not None:
        facts = ", ".join(name for name in form.changed_data if name in form.base_fields)
        conditions = changes_in_words(record.read().conditions, form.child.conditions)
        if request.POST.get("version") != str(record.version) or not record.keep(form.child):
            form.add_error(None, MEANWHILE)
            record.refresh_from_db()
            today = timezone.localdate()
            now = [line_of(condition, today) for condition in record.read().conditions]
            context = {"form": form, "record": record, "on_record_now": now}
            return render(request, "children/child_form.html", context, status=409)
        note(request, "changed a child", record.record_id, facts or "conditions")
        for words in conditions:
            note(request, "changed a condition", record.record_id, words)
        _tell(request, f"{record.name}: changed.", form.warnings)
        return redirect("child", record.pk)
    return render(request, "children/child_form.html", {"form": form, "record": record})


@needs("receive children")
@require_http_methods(["GET", "POST"])
def past_dose(request: HttpRequest, pk: int) -> HttpResponse:
    """A dose given elsewhere, from a card."""
    record = get_object_or_404(ChildRecord, pk=pk)
    form = PastDoseForm(request.POST or None, kept=record.read())
    if request.method == "POST" and form.is_valid() and form.child is not None:
        if not record.keep(form.child):
            messages.warning(request, MEANWHILE)
            return redirect("past-dose", record.pk)
        dose = form.child.doses[-1]
        note(request, "added a past dose", record.record_id, _dose_words(dose))
        messages.success(request, f"Added: {cvx_codes()[dose.cvx].name}, {dose.on}.")
        return redirect("child", record.pk)
    return render(request, "children/past_dose.html", {"form": form, "record": record})


@needs("receive children")
@require_POST
def past_dose_remove(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Take out a past dose that was typed or imported wrongly; the trail keeps what it was."""
    record = get_object_or_404(ChildRecord, pk=pk)
    child = record.read()
    same_version = request.POST.get("version") == str(record.version)
    rest = child.doses[:number] + child.doses[number + 1 :]
    there = number < len(child.doses)
    if same_version and there and record.keep(msgspec.structs.replace(child, doses=rest)):
        dose = child.doses[number]
        note(request, "took out a past dose", record.record_id, _dose_words(dose))
        messages.success(request, f"Taken out: CVX {dose.cvx}, {dose.on}. The trail keeps it.")
    else:
        messages.warning(request, MEANWHILE)
    return redirect("child", record.pk)


def _dose_words(dose: DoseGiven) -> str:
    """A past dose as the trail keeps it."""
    parts = [f"CVX {dose.cvx} on {dose.on}"]
    if dose.lot:
        parts.append(f"lot {dose.lot}")
    if dose.campaign is not None:
        parts.append("given in a campaign" if dose.campaign else "not in a campaign")
    return ", ".join(parts)


def _tell(request: HttpRequest, text: str, warnings: list[str]) -> None:
    messages.success(request, text)
    for warning in warnings:
        messages.warning(request, warning)


@needs("look")
@require_GET
def child(request: HttpRequest, pk: int) -> HttpResponse:
    record = get_object_or_404(ChildRecord.objects.prefetch_related("entries"), pk=pk)
    note_seen(request, "the child", record.record_id)
    today = timezone.localdate()
    whole = whole_child(record)
    context: dict[str, Any] = {
        "record": record,
        "whole": whole,
        "conditions": [line_of(condition, today) for condition in whole.conditions],
        "age": age_on(record.born, today) if record.born <= today else None,
        "visits": record.visits.order_by("-day")[:8],
        "entries": LedgerEntry.objects.filter(child=record).order_by("-number")[:20],
        "today": today,
    }
    try:
        answer = answer_for(record, today, why=True)
    except TraywiseError as error:
        context["rulebook_faults"] = error.faults
    else:
        context |= _answer_context(record, answer)
    return render(request, "children/child.html", context)


def _answer_context(record: ChildRecord, answer: Answer) -> dict[str, Any]:
    # Every text inside the picture is escaped where it is drawn.
    picture = mark_safe(timeline_svg(record.born, answer))  # noqa: S308
    recorded = record.read().doses
    from_record = len(recorded)
    history = [
        {
            "dose": judged,
            "name": cvx_codes()[judged.cvx].name if judged.cvx in cvx_codes() else judged.cvx,
            "number": number if number < from_record else None,
            "campaign": number < from_record and recorded[number].campaign,
        }
        for number, judged in enumerate(answer.doses)
    ]
    groups: list[tuple[str, GroupForecast]] = list(answer.groups.items())
    now = [pair for pair in groups if pair[1].status in ("due", "overdue")]
    later = sorted(
        (pair for pair in groups if pair[1].status in ("not yet", "deferred")),
        key=lambda pair: pair[1].until or pair[1].due or date.max,
    )
    rest = [pair for pair in groups if pair not in now and pair not in later]
    return {
        "answer": answer,
        "timeline": picture,
        "history": history,
        "due_now": now,
        "later": later,
        "settled": rest,
    }
