"""After the doses: watching, a reaction, the sheet for the parent; and paper of the tray."""

from __future__ import annotations

from datetime import date
from typing import Any, Literal, cast

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from traywise.errors import InputError, TraywiseError
from traywise.paper.parent_sheet import parent_sheet_pdf
from traywise.paper.reach_picture import draw_reach_sheet
from traywise.paper.sheet import tray_sheets_pdf
from traywise.paper.sheet_data import TraySheet
from traywise.paper.typesetting import Paper
from traywise.schedule.answer import Answer
from traywise.screening.answer_for import answer_for
from traywise.tray.need import ASKABLE
from traywise.tray.plan import Place
from traywise.workbench.accounts.roles import needs
from traywise.workbench.asking.history import before_today, whole_child
from traywise.workbench.asking.trays import tray_of
from traywise.workbench.audit.models import note
from traywise.workbench.day.board import visits_of
from traywise.workbench.day.day_text import day_of
from traywise.workbench.day.events import tell, touch
from traywise.workbench.day.models import AWAY, LEFT, WATCHED, Appointment
from traywise.workbench.giving.visit import facts, find_visit, round_of
from traywise.workbench.ledger.correcting import note_reaction
from traywise.workbench.ledger.models import REACTION
from traywise.workbench.shelf.models import Lot
from traywise.workbench.shelf.presses import fresh_key, press_of

LANGUAGES = ("en", "es")
PAPERS = ("a4", "a5", "us-letter")


@needs("look")
@require_GET
def after(request: HttpRequest, pk: int) -> HttpResponse:
    """What was given, how long to watch, what comes next."""
    visit = find_visit(request, pk, "the watching")
    going = round_of(visit)
    if visit.state not in (WATCHED, LEFT) or going is None:
        return redirect("tray", pk)
    child = whole_child(visit.child, visit)
    answer = answer_for(child, settings.EDITION, visit.day)
    context = facts(visit) | {
        "doses": [going.done[place.n] for place in going.tray.tray if place.n in going.done],
        "left_out": [place for place in going.tray.tray if place.n not in going.done],
        "cautions": going.tray.cautions,
        "later": _come_back(answer, visit.day),
        "reactions": [
            e for e in visit.child.entries.all() if e.kind == REACTION and e.visit_id == visit.pk
        ],
        "key": fresh_key(),
    }
    return render(request, "giving/after.html", context)


def _come_back(answer: Answer, today: date) -> list[tuple[date, str]]:
    """Dates ahead, soonest first, each with its doses."""
    by_day: dict[date, list[str]] = {}
    for group, forecast in answer.groups.items():
        if forecast.due is not None and forecast.status != ASKABLE:
            day = max(forecast.due, forecast.until or forecast.due, today)
            number = f" dose {forecast.next_dose}" if forecast.next_dose else ""
            by_day.setdefault(day, []).append(f"{group}{number}")
    return [(day, ", ".join(names)) for day, names in sorted(by_day.items())]


@needs("give")
@require_http_methods(["POST"])
def reaction(request: HttpRequest, pk: int) -> HttpResponse:
    """A note of what was seen; it goes into the ledger and never changes."""
    visit = find_visit(request, pk, "the watching")
    what, done = request.POST.get("what", "").strip(), request.POST.get("done", "").strip()
    if visit.state not in (WATCHED, LEFT) or not what:
        messages.warning(request, "Write what was seen.")
        return redirect("after", pk)
    key = f"reaction-{visit.pk}-{press_of(request)}"
    body = {
        "what": what[:600],
        "done": done[:600],
        "seen_at": timezone.localtime().isoformat(timespec="minutes"),
    }
    entry = note_reaction(visit, by=request.user, key=key, body=body)
    note(request, "noted a reaction", visit.child.record_id, f"ledger {entry.number}")
    tell(visit.day, f"{visit.child.name}: a reaction was noted", request.user)
    touch(visit)
    messages.success(request, "Noted in the ledger.")
    return redirect("after", pk)


def _pdf(content: bytes, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response


@needs("look")
@require_GET
def sheet(request: HttpRequest, pk: int, language: str) -> HttpResponse:
    """The parent's sheet as PDF: English or Spanish."""
    visit = find_visit(request, pk, "the parent's sheet")
    going = round_of(visit)
    if language not in LANGUAGES or going is None:
        raise Http404
    given: list[Place] = [place for place in going.tray.tray if place.n in going.done]
    child = whole_child(visit.child, visit)
    answer = answer_for(child, settings.EDITION, visit.day)
    chosen = cast(Literal["en", "es"], language)
    pdf = parent_sheet_pdf(child, given, answer, visit.day, language=chosen)
    note(request, "printed the parent's sheet", visit.child.record_id, language)
    return _pdf(pdf, f"sheet-{visit.pk}-{language}")


@needs("look")
@require_GET
def tray_paper(request: HttpRequest, pk: int) -> HttpResponse:
    """The tray's sheet and labels as PDF."""
    visit = find_visit(request, pk, "the tray on paper")
    sheet_ = _tray_sheet(visit)
    if sheet_ is None:
        return redirect("tray", pk)
    note(request, "printed the tray", visit.child.record_id)
    return _pdf(tray_sheets_pdf([sheet_], paper=_paper(request)), f"tray-{visit.pk}")


@needs("look")
@require_GET
def day_paper(request: HttpRequest, text: str) -> HttpResponse:
    """Sheets and labels of all trays of a day that are not given yet, in one PDF."""
    day = day_of(text)
    waiting = [v for v in visits_of(day) if v.state not in (WATCHED, LEFT, AWAY)]
    sheets = [sheet_ for visit in waiting if (sheet_ := _tray_sheet(visit)) is not None]
    if not sheets:
        messages.warning(request, "No tray of this day waits to be printed.")
        return redirect("day-of", text)
    note(request, "printed the trays of a day", detail=f"{day}: {len(sheets)} trays")
    return _pdf(tray_sheets_pdf(sheets, paper=_paper(request)), f"trays-{day}")


def _paper(request: HttpRequest) -> Paper:
    wanted = request.GET.get("paper", "")
    return cast(Paper, wanted) if wanted in PAPERS else "a4"


def _tray_sheet(visit: Appointment) -> TraySheet | None:
    """What paper shows of one visit; None when there is no tray."""
    tray = tray_of(visit)
    if tray is None:
        return None
    child = before_today(whole_child(visit.child, visit), visit.day)
    lots = [place.lot for place in tray.tray if place.lot]
    known = Lot.objects.filter(lot__in=lots).exclude(gtin="").values_list("lot", "gtin")
    answer = answer_for(child, settings.EDITION, visit.day)
    return TraySheet(child=child, answer=answer, tray=tray, on=visit.day, gtins=dict(known))


@needs("look")
@require_GET
def reach_picture(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """How far the needle of one place reaches, as a picture with its evidence."""
    visit = find_visit(request, pk, "the tray")
    tray = tray_of(visit)
    place = next((p for p in tray.tray if p.n == number), None) if tray else None
    if place is None or place.needle is None or place.site is None:
        raise Http404
    return HttpResponse(_reach_svg(visit, place), content_type="image/svg+xml")


def _reach_svg(visit: Appointment, place: Place) -> str:
    seen: dict[str, Any] = facts(visit)
    assert place.needle is not None  # noqa: S101  checked by the caller
    site = "thigh" if place.site in ("LT", "RT") else "deltoid"
    try:
        return draw_reach_sheet(
            site,
            float(seen["age"].months),
            seen["whole"].weight_kg,
            float(place.needle.length_mm),
            float(place.angle_deg or 90),
        )
    except (InputError, TraywiseError):
        raise Http404 from None
