"""Answers of the screening, and trays as they were laid."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from traywise.workbench.day.models import Appointment


class ScreeningAnswer(models.Model):
    """One answer, with name and time. A later answer to the same question is a new entry."""

    visit = models.ForeignKey(Appointment, on_delete=models.PROTECT, related_name="answers")
    question = models.CharField(max_length=60)
    text = models.CharField(max_length=400)
    answer = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT)

    class Meta:
        ordering = ["id"]


class LaidTray(models.Model):
    """The tray as it was laid: giving follows this, not a plan that moves under the hands."""

    visit = models.ForeignKey(Appointment, on_delete=models.PROTECT, related_name="trays")
    tray = models.JSONField()
    edition = models.CharField(max_length=60)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT)

    class Meta:
        ordering = ["-id"]


class TrayChange(models.Model):
    """What the vaccinator chose in place of the plan: a product's lot, a site, a needle; or a
    group left to the clinician that was decided together. The latest of a kind holds."""

    visit = models.ForeignKey(Appointment, on_delete=models.PROTECT, related_name="changes")
    group = models.CharField(max_length=40)  # groups of the place, joined by "+"
    what = models.CharField(
        max_length=10, choices=[(w, w) for w in ("lot", "site", "needle", "decided")]
    )
    value = models.CharField(max_length=160)  # a lot's line names lot, unit and funding
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT)

    class Meta:
        ordering = ["id"]
