"""Where a person wanted to go before signing in or waking."""

from __future__ import annotations

from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme


def next_page(request: HttpRequest) -> str:
    """The page that was asked for, if it is one of ours; else the day."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, request.is_secure())
    return wanted if ours and wanted.startswith("/") else "/day/"
