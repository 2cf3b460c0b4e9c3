"""The trail, newest first, and whether its chain and the ledger's hold."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_POST

from traywise.workbench.accounts.roles import needs
from traywise.workbench.audit.chain import find_break
from traywise.workbench.audit.models import AuditEntry, note
from traywise.workbench.audit.seen import note_seen
from traywise.workbench.ledger.models import LedgerEntry

PER_PAGE = 60


@needs("read the trail")
@require_GET
def trail(request: HttpRequest) -> HttpResponse:
    entries = AuditEntry.objects.order_by("-number")
    who, child = request.GET.get("who", "").strip(), request.GET.get("child", "").strip()
    if who:
        entries = entries.filter(who__iexact=who)
    if child:
        entries = entries.filter(child__icontains=child)
    page = Paginator(entries, PER_PAGE).get_page(request.GET.get("page"))
    note_seen(request, "the trail", child[:80])
    return render(request, "audit/trail.html", {"page": page, "who": who, "child": child})


@needs("read the trail")
@require_POST
def check(request: HttpRequest) -> HttpResponse:
    """Recompute every seal of both chains."""
    found = [
        {"name": name, "break": find_break(kind), "count": kind.objects.count()}
        for name, kind in (("ledger", LedgerEntry), ("trail", AuditEntry))
    ]
    note(request, "checked the seals")
    return render(request, "audit/checked.html", {"chains": found})
