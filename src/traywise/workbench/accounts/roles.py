"""Who may do what. A view without a word here opens for nobody: it fails at first call."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

RECEPTION = "reception"
VACCINATOR = "vaccinator"
COORDINATOR = "coordinator"
READER = "reader"
ROLES = (RECEPTION, VACCINATOR, COORDINATOR, READER)

# What each role may do; pages are opened by these names, never by a role's name.
MAY: dict[str, frozenset[str]] = {
    "look": frozenset(ROLES),  # the day, a child, a tray, the shelf, the ledger
    "receive children": frozenset({RECEPTION, VACCINATOR, COORDINATOR}),  # roster, arrival
    "screen": frozenset({VACCINATOR, COORDINATOR}),
    "give": frozenset({VACCINATOR, COORDINATOR}),
    "override": frozenset({COORDINATOR}),  # pass a stop, with a reason recorded
    "correct": frozenset({VACCINATOR, COORDINATOR}),
    "keep the shelf": frozenset({VACCINATOR, COORDINATOR}),
    "keep the staff": frozenset({COORDINATOR}),
    "read the trail": frozenset({COORDINATOR}),
}

View = Callable[..., HttpResponse]


def may(role: str, deed: str) -> bool:
    """Whether a role may do a deed; an unknown deed is a fault of the program."""
    return role in MAY[deed]


def needs(deed: str) -> Callable[[View], View]:
    """Mark a view: only signed-in people whose role may do ``deed``."""
    allowed = MAY[deed]

    def mark(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if not request.user.is_authenticated:
                return _to_sign_in(request)
            if request.user.role not in allowed:
                _note_refusal(request, deed)
                raise PermissionDenied(f"Your role, {request.user.role}, may not {deed}.")
            return view(request, *args, **kwargs)

        guarded.needs = deed  # type: ignore[attr-defined]
        return guarded

    return mark


def _to_sign_in(request: HttpRequest) -> HttpResponse:
    wanted = request.get_full_path() if request.method == "GET" else "/day/"
    return HttpResponseRedirect("/sign-in/?" + urlencode({"next": wanted}))


def open_to_all(view: View) -> View:
    """Mark a view that anybody may call, signed in or not."""
    view.needs = None  # type: ignore[attr-defined]
    return view


def _note_refusal(request: HttpRequest, deed: str) -> None:
    from traywise.workbench.audit.models import note

    note(request, "was refused", detail=f"{deed}: {request.method} {request.path}")


class PageLink(NamedTuple):
    """One entry of the top line."""

    name: str
    url: str
    here: bool = False


_PAGES = (
    ("look", PageLink("Today", "/day/")),
    ("look", PageLink("Children", "/children/")),
    ("look", PageLink("Shelf", "/shelf/")),
    ("look", PageLink("Ledger", "/ledger/")),
    ("keep the staff", PageLink("Staff", "/staff/")),
    ("read the trail", PageLink("Trail", "/trail/")),
)


def pages_for(role: str, path: str = "") -> tuple[PageLink, ...]:
    """The pages of the top line that a role may open; the one of ``path`` is marked."""
    return tuple(
        link._replace(here=path.startswith(link.url)) for deed, link in _PAGES if may(role, deed)
    )
