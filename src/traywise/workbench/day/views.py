"""The day's page, its live board, its pick list, and the steps of a visit."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from traywise.errors import TraywiseError
from traywise.workbench.accounts.roles import needs
from traywise.workbench.asking.trays import plan_day_together, stock_now
from traywise.workbench.audit.models import note
from traywise.workbench.audit.seen import note_seen
from traywise.workbench.children.models import ChildRecord, DraftRow
from traywise.workbench.day.board import (
    board_stamp,
    build_board,
    pick_list,
    summarise,
    supplies_of,
)
from traywise.workbench.day.day_text import day_of
from traywise.workbench.day.events import tell
from traywise.workbench.day.forms import AddVisitForm
from traywise.workbench.day.models import ARRIVED, EXPECTED, WATCHED, Appointment, DayEvent
from traywise.workbench.frame.drawn import drawn_once

RECENT_CHANGES = 5


@needs("look")
@require_GET
def today(request: HttpRequest) -> HttpResponse:
    return day(request, timezone.localdate().isoformat())


def _board(day_: date) -> dict[str, Any]:
    stock = stock_now()
    rows = build_board(day_, stock)
    picks_ = pick_list(rows, stock)
    return {
        "day": day_,
        "rows": rows,
        "summary": summarise(rows),
        "picks": picks_,
        "short": [pick for pick in picks_ if pick.short],
        "supplies": supplies_of(rows),
        "changes": DayEvent.objects.filter(day=day_)[:RECENT_CHANGES],
        "drafts": DraftRow.objects.filter(source__day=day_, state=DraftRow.WAITING).count(),
    }


def _drawn_board(request: HttpRequest, day_: date, stamp: str) -> SafeString:
    rights = {
        "reads_only": not request.user.may("receive children"),
        "can_give": request.user.may("give"),
    }
    return drawn_once(
        request,
        "day/board.html",
        f"{day_} {stamp} {rights}",
        lambda: _board(day_) | rights | {"stamp": stamp},
    )


@needs("look")
@require_GET
def day(request: HttpRequest, text: str) -> HttpResponse:
    day_ = day_of(text)
    note_seen(request, f"the day {day_}", "")
    context = {
        "day": day_,
        "board": _drawn_board(request, day_, board_stamp(day_)),
        "before": day_ - timedelta(days=1),
        "after": day_ + timedelta(days=1),
        "is_today": day_ == timezone.localdate(),
    }
    return render(request, "day/day.html", context)


@needs("look")
@require_GET
def board(request: HttpRequest, text: str) -> HttpResponse:
    """The board alone; 204 when the screen that asks is up to date."""
    day_ = day_of(text)
    stamp = board_stamp(day_)
    if request.GET.get("stamp") == stamp:
        return HttpResponse(status=204)
    return HttpResponse(_drawn_board(request, day_, stamp))


@needs("give")
@require_POST
def plan(request: HttpRequest, text: str) -> HttpResponse:
    """All trays not begun, planned together against the shelf as a whole."""
    day_ = day_of(text)
    try:
        count = plan_day_together(day_)
    except TraywiseError as error:
        messages.error(request, " ".join(fault.text for fault in error.faults))
    else:
        tell(day_, f"{count} trays were planned together", request.user)
        note(request, "planned the session", detail=f"{day_}: {count} trays")
        messages.success(request, f"{count} trays planned together against the whole shelf.")
    return redirect("day-of", day_.isoformat())


@needs("look")
@require_GET
def picks(request: HttpRequest, text: str) -> HttpResponse:
    """The pick list for paper."""
    return render(request, "day/picks.html", _board(day_of(text)))


@needs("receive children")
@require_http_methods(["GET", "POST"])
def add(request: HttpRequest, text: str, pk: int) -> HttpResponse:
    """Give a known child a place on the day."""
    day_, child = day_of(text), get_object_or_404(ChildRecord, pk=pk)
    form = AddVisitForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            with transaction.atomic():
                Appointment.objects.create(child=child, day=day_, time=form.cleaned_data["time"])
        except IntegrityError:
            messages.warning(request, f"{child.name} stands on this day already.")
        else:
            tell(day_, f"{child.name} was added", request.user)
            note(request, "added to the day", child.record_id, day_.isoformat())
        return redirect("day-of", day_.isoformat())
    return render(request, "day/add.html", {"form": form, "child": child, "day": day_})


STEPS = {
    # step: (states it starts from, field set, words for the others)
    "arrive": ((EXPECTED,), "arrived_at", "has arrived"),
    "away": ((EXPECTED, ARRIVED), "away_at", "did not come"),
    "leave": ((WATCHED, ARRIVED), "left_at", "has left"),
}


@needs("receive children")
@require_POST
def step(request: HttpRequest, pk: int, name: str) -> HttpResponse:
    """Arrive, did not come, leave; or take the last of these back."""
    visit = get_object_or_404(Appointment.objects.select_related("child"), pk=pk)
    if name not in STEPS:
        raise Http404
    states, field, words = STEPS[name]
    if request.POST.get("back"):
        if getattr(visit, field) is not None:
            note(request, "took a step back", visit.child.record_id, words)
        Appointment.objects.filter(pk=pk).update(**{field: None, "changed_at": timezone.now()})
        tell(visit.day, f"{visit.child.name}: “{words}” was taken back", request.user)
    elif visit.state in states:
        if name == "leave" and visit.minutes_to_watch and not request.POST.get("early"):
            return render(request, "day/leave_early.html", {"visit": visit})
        Appointment.objects.filter(pk=pk).update(
            **{field: timezone.now(), "changed_at": timezone.now()}
        )
        early = " before the watching time was over" if visit.minutes_to_watch else ""
        tell(visit.day, f"{visit.child.name} {words}{early}", request.user)
        note(request, words, visit.child.record_id, early.strip())
    return redirect(reverse("day-of", args=[visit.day.isoformat()]) + f"#visit-{visit.pk}")
