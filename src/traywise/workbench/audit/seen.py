"""Writes down who looked at a child: once in five minutes for the same page."""

from __future__ import annotations

from django.core.cache import cache
from django.http import HttpRequest

from traywise.workbench.audit.models import note

SAME_LOOK_SECONDS = 300


def note_seen(request: HttpRequest, page: str, child: str) -> None:
    """An entry "saw <page>" unless this person saw this page of this child just now."""
    key = f"seen:{request.user.pk}:{page}:{child}".replace(" ", "_")
    if cache.add(key, True, SAME_LOOK_SECONDS):
        note(request, f"saw {page}", child)
