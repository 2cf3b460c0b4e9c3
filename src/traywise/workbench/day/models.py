"""Appointments and what changed on a day."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.db import models
from django.utils import timezone

from traywise.workbench.children.models import ChildRecord

EXPECTED, ARRIVED, GIVING, WATCHED, LEFT, AWAY = (
    "expected",
    "arrived",
    "giving",
    "watched",
    "left",
    "away",
)


class Appointment(models.Model):
    """One child on one day. The times tell the state; each is set once."""

    child = models.ForeignKey(ChildRecord, on_delete=models.PROTECT, related_name="visits")
    day = models.DateField(db_index=True)
    time = models.CharField(max_length=5, blank=True)  # "09:20"; empty: no time agreed
    arrived_at = models.DateTimeField(null=True)
    giving_at = models.DateTimeField(null=True)
    given_at = models.DateTimeField(null=True)
    watch_minutes = models.PositiveIntegerField(default=0)  # set when the last dose is given
    left_at = models.DateTimeField(null=True)
    away_at = models.DateTimeField(null=True)
    planned = models.JSONField(null=True)  # picks of the plan of the whole session
    changed_at = models.DateTimeField(auto_now=True, db_index=True)

    class Meta:
        ordering = ["day", "time", "id"]
        constraints = [
            models.UniqueConstraint(fields=["child", "day"], name="one_visit_a_day"),
        ]

    @property
    def state(self) -> str:
        """From arrival to leaving."""
        if self.left_at:
            return LEFT
        if self.away_at:
            return AWAY
        if self.given_at:
            return WATCHED
        if self.giving_at:
            return GIVING
        return ARRIVED if self.arrived_at else EXPECTED

    @property
    def may_leave_at(self) -> datetime | None:
        """End of the watching time after the last dose."""
        if self.given_at is None:
            return None
        end: datetime = self.given_at + timedelta(minutes=self.watch_minutes)
        return end

    @property
    def minutes_to_watch(self) -> int:
        """Whole minutes still to watch, 0 when the time is over."""
        end = self.may_leave_at
        if end is None or self.left_at:
            return 0
        return max(0, -int(-(end - timezone.now()).total_seconds() // 60))


class DayEvent(models.Model):
    """What changed on a day's board, so that the others are told and not only shown."""

    day = models.DateField(db_index=True)
    at = models.DateTimeField(auto_now_add=True)
    text = models.CharField(max_length=200)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL)

    class Meta:
        ordering = ["-id"]
