"""A screen left alone rests: it shows nothing until its person wakes it.

The session stays, so that what was being typed comes back: a form sent from a
rested screen is held and offered again after waking. Polling by the day's board
does not count as someone being there.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

OPEN_PATHS = ("/static/", "/wake/", "/sign-out/", "/sign-in/", "/healthy/")
NEVER_HELD = ("csrfmiddlewaretoken", "password", "pin", "code")
HELD = "held"
LAST = "last_touch"
RESTS = "rests"
WRITE_EVERY_SECONDS = 20


class RestWhenIdle:
    """Middleware: send an idle person's requests to the waking page.

    It looks when the view is known, after the form's token was checked: what another page
    made this browser send is never held and offered as the person's own.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, *view: Any) -> HttpResponse | None:
        """The waking page, or None to go on."""
        if request.path.startswith(OPEN_PATHS) or not request.user.is_authenticated:
            return None
        now = time.time()
        last = request.session.get(LAST, now)
        if request.session.get(RESTS) or now - last > settings.REST_MINUTES * 60:
            return _to_waking(request)
        polled = request.method == "GET" and request.htmx and "stamp" in request.GET
        if not polled and (now - last > WRITE_EVERY_SECONDS or LAST not in request.session):
            request.session[LAST] = now
        return None


def _to_waking(request: HttpRequest) -> HttpResponse:
    request.session[RESTS] = True
    target = "/wake/"
    if request.method == "POST":
        request.session[HELD] = {
            "path": request.path,
            "fields": [
                [name, value]
                for name, values in request.POST.lists()
                for value in values
                if not any(word in name for word in NEVER_HELD)
            ],
        }
    elif not request.htmx:
        target += "?" + urlencode({"next": request.get_full_path()})
    if request.htmx:
        response = HttpResponse(status=204)
        response["HX-Redirect"] = target
        return response
    return HttpResponseRedirect(target)
