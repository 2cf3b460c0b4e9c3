"""What holds for every request: how much may come in, and which headers go out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse

Handler = Callable[[HttpRequest], HttpResponse]

# No inline script, no inline style, nothing from elsewhere, no framing.
CONTENT_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)


def page_headers(get_response: Handler) -> Handler:
    """Content policy on all; pages of people stay in no cache of a shared machine."""

    def handle(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Content-Security-Policy", CONTENT_POLICY)
        response.headers.setdefault(
            "Permissions-Policy", "camera=(), geolocation=(), microphone=(), payment=(), usb=()"
        )
        if not request.path.startswith("/static/"):
            response.headers.setdefault("Cache-Control", "no-store")
        return response

    return handle


def upload_limit(get_response: Handler) -> Handler:
    """A request larger than a clinic's roster can be is refused before it is read."""

    def handle(request: HttpRequest) -> HttpResponse:
        try:
            length = int(request.META.get("CONTENT_LENGTH") or 0)
        except ValueError:
            length = 0
        if length > settings.UPLOAD_LIMIT_BYTES:
            megabytes = settings.UPLOAD_LIMIT_BYTES // (1024 * 1024)
            return HttpResponse(
                f"This file is larger than {megabytes} MB. A roster of one session is far "
                "smaller: split the file, or send only the session's children.",
                status=413,
                content_type="text/plain; charset=utf-8",
            )
        return get_response(request)

    return handle


class NoZeroSigns:
    """No name or reason holds the sign of number zero, and PostgreSQL can keep none."""

    def __init__(self, get_response: Handler):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, *view: Any) -> HttpResponse | None:
        """A refusal, or None to go on; it comes after the form's token was checked."""
        for fields in (request.GET, request.POST):
            if any("\0" in text for name, texts in fields.lists() for text in (name, *texts)):
                return HttpResponse(
                    "What was sent holds a sign that no keyboard writes. Nothing was recorded.",
                    status=400,
                    content_type="text/plain; charset=utf-8",
                )
        return None
