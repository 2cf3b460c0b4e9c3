"""Tells the other screens what changed, in words."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.utils import timezone

from traywise.workbench.day.models import Appointment, DayEvent


def tell(day: date, text: str, by: Any) -> None:
    """One line in the day's changes."""
    DayEvent.objects.create(day=day, text=text[:200], by=by)


def touch(visit: Appointment) -> None:
    """Something of this visit changed elsewhere: its row is drawn anew."""
    Appointment.objects.filter(pk=visit.pk).update(changed_at=timezone.now())
