"""What every page's frame shows."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils import timezone

from traywise.workbench.accounts.roles import pages_for


def clinic(request: HttpRequest) -> dict[str, Any]:
    """Clinic, clock, edition and the pages this person's role may open."""
    user: Any = getattr(request, "user", None)
    signed_in = user is not None and user.is_authenticated
    return {
        "clinic": settings.CLINIC,
        "edition": settings.EDITION,
        "keeps_shelf": signed_in and user.may("keep the shelf"),
        "may_screen": signed_in and user.may("screen"),
        "can_give": signed_in and user.may("give"),
        "demo": settings.DEMO,
        "now": timezone.localtime(),
        "pages": pages_for(user.role, request.path) if signed_in else (),
    }
