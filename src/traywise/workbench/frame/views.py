"""Pages for a refusal, a missing page, a stale form and a failure."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def refused(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Signed in, but the role may not."""
    return render(request, "frame/refused.html", {"why": str(exception or "")}, status=403)


def form_not_ours(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The form's token is missing or old; nothing was done."""
    return render(request, "frame/stale_form.html", status=403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """No such page or entry."""
    return render(request, "frame/not_found.html", status=404)


def went_wrong(request: HttpRequest) -> HttpResponse:
    """A fault of the program: said plainly, without the database."""
    return HttpResponse(
        "Something failed on our side. Nothing unconfirmed was recorded; what was confirmed "
        "stands in the ledger. Go back and try again, and tell your coordinator.",
        status=500,
        content_type="text/plain; charset=utf-8",
    )
