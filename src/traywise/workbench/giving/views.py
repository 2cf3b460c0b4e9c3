"""Screening, tray, giving, watching: the pages of one visit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec
from django.conf import settings
from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from traywise.errors import RefusedError, TraywiseError
from traywise.schedule.answer import GroupForecast
from traywise.tray.need import ASKABLE
from traywise.tray.plan import OpenQuestion, Place
from traywise.workbench.accounts.roles import needs
from traywise.workbench.asking.changes import Changed
from traywise.workbench.asking.needle_policy import policy_words
from traywise.workbench.asking.scans import Scanned, read_scan
from traywise.workbench.asking.trays import (
    Stock,
    compose_for,
    decided_groups,
    planned,
    stock_now,
    tray_stamp,
    wishes_of,
)
from traywise.workbench.asking.watching import watch_minutes
from traywise.workbench.audit.models import note
from traywise.workbench.day.events import tell, touch
from traywise.workbench.day.models import ARRIVED, EXPECTED, GIVING, WATCHED, Appointment
from traywise.workbench.frame.drawn import drawn_once
from traywise.workbench.giving.checks import Checked, check_giving
from traywise.workbench.giving.models import LaidTray, ScreeningAnswer
from traywise.workbench.giving.pictures import body_map, needle_of
from traywise.workbench.giving.questions import answered_at, asked_as, may_all_be_no
from traywise.workbench.giving.recording import press_key, record_dose
from traywise.workbench.giving.visit import (
    Round,
    facts,
    find_visit,
    find_visit_alone,
    round_of,
    whole_visit,
)

REASON_LETTERS = 5  # a reason of fewer letters is none
LONGEST_REASON = 300  # as the form's own limit


@needs("look")
@require_GET
def tray(request: HttpRequest, pk: int) -> HttpResponse:
    """The tray: as laid once giving has begun, else as it stands now."""
    visit = find_visit_alone(request, pk, "the tray")
    stock = stock_now()
    rights = {"can_give": request.user.may("give"), "may_screen": request.user.may("screen")}
    try:
        drawn = drawn_once(
            request,
            "giving/tray_main.html",
            f"{tray_stamp(visit, stock)} {rights}",
            lambda: _tray_context(pk, stock) | rights,
        )
    except TraywiseError as error:
        context = facts(visit) | {"faults": error.faults}
        return render(request, "giving/no_tray.html", context)
    return render(request, "giving/tray.html", {"record": visit.child, "drawn": drawn})


def _tray_context(pk: int, stock: Stock) -> dict[str, Any]:
    """All that the tray page shows; whatever it reads is named by ``tray_stamp``."""
    visit = whole_visit(pk)
    context = facts(visit)
    going = round_of(visit) if visit.giving_at else None
    plan = Changed(tray=going.tray) if going else planned(visit, stock)
    context |= {
        "tray": plan.tray,
        "policy": policy_words(plan.tray.needle_policy),
        "breaks": plan.breaks,
        "wishes": wishes_of(visit),
        "going": going,
        "to_decide": _to_decide(visit, stock) if not going else (),
        "may_start": visit.state in (EXPECTED, ARRIVED) and bool(plan.tray.tray),
    }
    return context | _pictures(context)


def _pictures(context: dict[str, Any]) -> dict[str, Any]:
    """The body map, and each place with its needle to scale."""
    shown, age = context["tray"], context["age"]
    return {
        "map": body_map(shown, age, context["whole"]) if age else "",
        "places": [{"place": place, "needle": needle_of(place)} for place in shown.tray],
    }


def _to_decide(visit: Appointment, stock: Stock) -> list[tuple[str, GroupForecast, bool]]:
    """Groups that the schedule leaves to child, parent and clinician."""
    decided = decided_groups(visit)
    answer = compose_for(visit, stock).answer
    return [
        (group, forecast, group in decided)
        for group, forecast in answer.groups.items()
        if forecast.status == ASKABLE
    ]


@needs("screen")
@require_http_methods(["GET", "POST"])
def screen(request: HttpRequest, pk: int) -> HttpResponse:
    """Only the questions that matter, one press each; every answer kept with name and time."""
    visit = find_visit(request, pk, "the screening")
    context = facts(visit)
    try:
        shown = planned(visit).tray
    except TraywiseError as error:
        return render(request, "giving/no_tray.html", context | {"faults": error.faults})
    if request.method == "POST":
        if request.POST.get("all") == "no":
            _answer_all_no(request, visit, shown.questions)
        else:
            _answer(request, visit, {question.key: question.text for question in shown.questions})
        # The last answer leads on to the tray: one press less with a crying child.
        fresh = find_visit(request, pk, "the screening")
        return redirect("screen" if planned(fresh).tray.questions else "tray", pk)
    return render(
        request,
        "giving/screen.html",
        context
        | {
            "questions": [asked_as(question) for question in shown.questions],
            "all_no": len(may_all_be_no(shown.questions)),
            "answered": answered_at(visit),
            "tray": shown,
        },
    )


def _answer(request: HttpRequest, visit: Appointment, open_texts: dict[str, str]) -> None:
    """Take one answer: a button's word, what was ticked, or what was typed."""
    key = request.POST.get("key", "")
    answer = (
        request.POST.get("answer")
        or ",".join(request.POST.getlist("several"))
        or request.POST.get("value", "").strip()
    )
    known = open_texts | {a.question: a.text for a in visit.answers.all()}
    if key not in known or not answer:
        messages.warning(request, "This question is not open. Nothing was changed.")
        return
    ScreeningAnswer.objects.create(
        visit=visit, question=key, text=known[key][:400], answer=answer[:200], by=request.user
    )
    touch(visit)
    note(request, "took an answer", visit.child.record_id, f"{key}: {answer}")


def _answer_all_no(
    request: HttpRequest, visit: Appointment, questions: Sequence[OpenQuestion]
) -> None:
    """Every open question was read out and answered with no: each is kept by itself."""
    negative = may_all_be_no(questions)
    with transaction.atomic():
        for question in negative:
            ScreeningAnswer.objects.create(
                visit=visit,
                question=question.key,
                text=question.text[:400],
                answer="no",
                by=request.user,
            )
        note(request, "took answers", visit.child.record_id, f"no to all of {len(negative)}")
    touch(visit)


@needs("give")
@require_POST
def start(request: HttpRequest, pk: int) -> HttpResponse:
    """The child was asked for by name and date of birth: the tray is laid and giving begins."""
    visit = find_visit(request, pk, "the tray")
    if visit.state not in (EXPECTED, ARRIVED):
        return redirect("give", pk)
    plan = planned(visit)
    shown, reason = plan.tray, request.POST.get("reason", "").strip()
    if not shown.tray:
        messages.warning(request, "Nothing lies on this tray.")
        return redirect("tray", pk)
    if shown.questions and not request.POST.get("questions_open"):
        messages.warning(request, "Questions are still open. Answer them first.")
        return redirect("screen", pk)
    if plan.breaks and len(reason) < REASON_LETTERS:
        messages.warning(request, "Your changes break a rule: write why, or take them back.")
        return redirect("tray", pk)
    with transaction.atomic():
        LaidTray.objects.create(
            visit=visit,
            tray=msgspec.to_builtins(shown),
            edition=settings.EDITION,
            by=request.user,
        )
        now = timezone.now()
        Appointment.objects.filter(pk=pk).update(
            giving_at=now, arrived_at=visit.arrived_at or now, changed_at=now
        )
        said = f"; in spite of {', '.join(plan.breaks)}: {reason}" if plan.breaks else ""
        asked = f"name and date of birth asked{said}"
        note(request, "began to give", visit.child.record_id, asked)
    tell(visit.day, f"{visit.child.name}: giving begins", request.user)
    return redirect("give", pk)


@needs("give")
@require_POST
def lay_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Back to the plan: what was given stays given, the rest is composed anew."""
    visit = find_visit(request, pk, "the tray")
    going = round_of(visit)
    if visit.state != GIVING or going is None:
        return redirect("tray", pk)
    if going.done:
        messages.warning(request, "Doses of this tray are given already. Finish it, or stop here.")
        return redirect("give", pk)
    Appointment.objects.filter(pk=pk).update(giving_at=None, changed_at=timezone.now())
    note(request, "took the tray back", visit.child.record_id)
    return redirect("tray", pk)


@needs("give")
@require_http_methods(["GET", "POST"])
def give(request: HttpRequest, pk: int) -> HttpResponse:
    """One place after the other: scan, see that it is right, confirm."""
    visit = find_visit(request, pk, "the giving")
    going = round_of(visit)
    if going is None or visit.state not in (GIVING, WATCHED):
        return redirect("tray", pk)
    place = going.next_place
    if place is None or visit.state == WATCHED:
        return redirect("after", pk)
    if request.method == "GET":
        return _give_page(request, visit, going, place)
    # What was shown to the hand that pressed; a page left open must not give the next place.
    if request.POST.get("place") != str(place.n) or request.POST.get("laid") != str(going.laid):
        messages.warning(request, "This place was recorded already. Here is the next one.")
        return redirect("give", pk)
    # A scanner ends with Enter: a vial scanned while "Given" is offered is looked at anew and
    # never confirms the one before it.
    another = request.POST.get("another", "").strip(" \t\r\n")
    text = another or request.POST.get("scan", "")
    scan = read_scan(text)
    if scan.fault:
        return _give_page(request, visit, going, place, fault=scan.fault)
    checked = check_giving(visit, facts(visit)["whole"], place, scan, going.agreed)
    if another or request.POST.get("confirm") != "yes":
        return _give_page(request, visit, going, place, scan=scan, checked=checked)
    return _confirm(request, visit, going, place, scan, checked)


def _confirm(
    request: HttpRequest,
    visit: Appointment,
    going: Round,
    place: Place,
    scan: Scanned,
    checked: Checked,
) -> HttpResponse:
    """Record the dose, unless a stop stands that this person may not or did not pass."""
    reason = request.POST.get("reason", "").strip()[:LONGEST_REASON]
    if checked.stops:
        barred = not all(stop.may_be_passed_by(request.user.role) for stop in checked.stops)
        if barred or len(reason) < REASON_LETTERS:
            fault = "" if barred else "Write the reason: it goes into the ledger."
            return _give_page(request, visit, going, place, scan=scan, checked=checked, fault=fault)
    assert checked.lot is not None  # noqa: S101  no lot is a stop that nobody passes
    try:
        entry, wrote = record_dose(
            visit,
            place,
            checked.lot,
            key=press_key(visit, going.laid, place.n, going.turns.get(place.n, 0)),
            by=request.user,
            stops=checked.stops,
            reason=reason,
        )
    except RefusedError as error:
        text = " ".join(fault.text for fault in error.faults)
        return _give_page(request, visit, going, place, fault=text)
    if wrote:
        did = "gave a dose past a stop" if checked.stops else "gave a dose"
        note(request, did, visit.child.record_id, f"ledger {entry.number}, lot {checked.lot.lot}")
        tell(visit.day, f"{visit.child.name}: place {place.n}, {place.vaccine} given", request.user)
    touch(visit)
    if len(going.done) + 1 >= len(going.tray.tray):
        _begin_watching(visit)
        return redirect("after", visit.pk)
    return redirect("give", visit.pk)


def _begin_watching(visit: Appointment) -> None:
    Appointment.objects.filter(pk=visit.pk, given_at=None).update(
        given_at=timezone.now(),
        changed_at=timezone.now(),
        watch_minutes=watch_minutes(visit.child.born, visit.day),
    )


def _give_page(
    request: HttpRequest,
    visit: Appointment,
    going: Round,
    place: Place,
    *,
    scan: Scanned | None = None,
    checked: Checked | None = None,
    fault: str = "",
) -> HttpResponse:
    role = request.user.role
    stops = checked.stops if checked else ()
    passable = bool(stops) and all(stop.may_be_passed_by(role) for stop in stops)
    context: dict[str, Any] = facts(visit) | {
        "going": going,
        "place": place,
        "needle": needle_of(place),
        "scan": scan,
        "scan_text": request.POST.get("another", "").strip() or request.POST.get("scan", ""),
        "checked": checked,
        "stops": stops,
        "passable": passable,
        "fault": fault,
        "reason": request.POST.get("reason", ""),
    }
    return render(request, "giving/give.html", context, status=409 if stops else 200)


@needs("give")
@require_POST
def stop_here(request: HttpRequest, pk: int) -> HttpResponse:
    """The visit ends before every place is given; what is given is watched."""
    visit = find_visit(request, pk, "the giving")
    going = round_of(visit)
    reason = request.POST.get("reason", "").strip()
    if visit.state != GIVING or going is None:
        return redirect("tray", pk)
    if len(reason) < REASON_LETTERS:
        messages.warning(request, "Say why the rest is not given today.")
        return redirect("give", pk)
    left = [place.vaccine for place in going.tray.tray if place.n not in going.done]
    note(request, "stopped giving", visit.child.record_id, f"not given {', '.join(left)}: {reason}")
    tell(visit.day, f"{visit.child.name}: {', '.join(left)} not given today", request.user)
    if going.done:
        _begin_watching(visit)
        return redirect("after", pk)
    Appointment.objects.filter(pk=pk).update(giving_at=None, changed_at=timezone.now())
    return redirect("tray", pk)
