"""The day that an address names."""

from __future__ import annotations

from datetime import date

from django.http import Http404

YEARS = range(1900, 2200)  # beyond them calendars run out before any clinic does


def day_of(text: str) -> date:
    """The date of ``2026-11-24``; a page that does not exist for anything else."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise Http404 from None
    if day.year not in YEARS:
        raise Http404
    return day
