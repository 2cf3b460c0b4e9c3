"""Change a product, a limb or a needle of the plan, and see at once what that breaks."""

from __future__ import annotations

import re

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from traywise.equipment.tables import sites
from traywise.paper.wording import needle_words
from traywise.rulebook.codes import site_codes
from traywise.tray.plan import Place
from traywise.workbench.accounts.roles import needs
from traywise.workbench.asking.changes import choices_for, groups_key, lot_key, need_behind
from traywise.workbench.asking.trays import (
    child_of,
    compose_for,
    decided_groups,
    planned,
    stock_now,
    wishes_of,
)
from traywise.workbench.audit.models import note
from traywise.workbench.day.events import touch
from traywise.workbench.day.models import ARRIVED, EXPECTED, Appointment
from traywise.workbench.giving.models import TrayChange
from traywise.workbench.giving.visit import facts, find_visit

KINDS = ("lot", "site", "needle")
_NEEDLE = re.compile(r"[1-9][0-9]?x[1-9][0-9]?")  # gauge and mm


def _changeable(visit: Appointment, number: int) -> Place:
    if visit.state not in (EXPECTED, ARRIVED):
        raise Http404
    place = next((p for p in planned(visit).tray.tray if p.n == number), None)
    if place is None:
        raise Http404
    return place


@needs("give")
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """One place of the plan: choose otherwise, or take the choices back."""
    visit = find_visit(request, pk, "the tray")
    place = _changeable(visit, number)
    if request.method == "POST":
        _keep(request, visit, place)
        return redirect("tray", pk)
    stock = stock_now()
    composed = compose_for(visit, stock)
    need = need_behind(composed, child_of(visit), visit.day, decided_groups(visit))
    may, may_not = choices_for(place, need, stock.lots)
    listed = _listed_sites()
    context = facts(visit) | {
        "place": place,
        "lots": may,
        "refused": may_not,
        "sites": [(code, row.name) for code, row in site_codes().items() if code in listed],
        "needles": [
            (f"{n.gauge}x{n.length_mm}", needle_words(n))
            for n in dict.fromkeys(
                (*place.needle_choices, *([place.needle] if place.needle else []))
            )
        ],
        "needle_now": f"{place.needle.gauge}x{place.needle.length_mm}" if place.needle else "",
        "changed": bool(wishes_of(visit)),
    }
    return render(request, "giving/change.html", context)


def _keep(request: HttpRequest, visit: Appointment, place: Place) -> None:
    """Write down what was chosen, with name and time; the latest choice holds."""
    if request.POST.get("back"):
        for wish in wishes_of(visit):
            _write(request, visit, wish.groups, wish.what, "")
        messages.success(request, "The plan stands as composed.")
    for what in KINDS:
        value = request.POST.get(what, "")
        if value and _known(place, what, value):
            _write(request, visit, groups_key(place.groups), what, value)
    touch(visit)


def _known(place: Place, what: str, value: str) -> bool:
    """Only what there is: a crafted choice must not stand on the tray."""
    if what == "lot":
        return value in {lot_key(lot) for lot in stock_now().lots}
    if place.site is None:
        return False  # by mouth or nose: no limb, no needle
    if what == "needle":
        # One that no table lists may be tried: the tray then says what it breaks.
        return _NEEDLE.fullmatch(value) is not None
    return value in _listed_sites() and value != place.site


def _listed_sites() -> set[str]:
    return {code for row in sites().values() for code in (row.left, row.right)}


def _write(request: HttpRequest, visit: Appointment, groups: str, what: str, value: str) -> None:
    TrayChange.objects.create(
        visit=visit, group=groups[:40], what=what, value=value[:160], by=request.user
    )
    note(request, "changed the tray", visit.child.record_id, f"{groups}: {what} {value or 'back'}")


@needs("give")
@require_POST
def decide(request: HttpRequest, pk: int) -> HttpResponse:
    """A group that the schedule leaves to child, parent and clinician: give it, or not today."""
    visit = find_visit(request, pk, "the tray")
    group, value = request.POST.get("group", "")[:40], request.POST.get("value", "")
    known = compose_for(visit, stock_now()).answer.groups
    if visit.state in (EXPECTED, ARRIVED) and group in known and value in ("give", "not today"):
        TrayChange.objects.create(
            visit=visit, group=group, what="decided", value=value, by=request.user
        )
        note(request, "decided together", visit.child.record_id, f"{group}: {value}")
        touch(visit)
    return redirect("tray", pk)
