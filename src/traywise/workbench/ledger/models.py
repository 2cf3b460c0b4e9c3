"""The ledger's entries, and what they add up to for one child."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from traywise.workbench.audit.chain import ChainedEntry
from traywise.workbench.children.models import ChildRecord
from traywise.workbench.day.models import Appointment
from traywise.workbench.shelf.models import Lot

GIVEN, CORRECTED, REACTION = "given", "corrected", "reaction"


class LedgerEntry(ChainedEntry):
    """One thing that happened. ``key`` names the press: a repeated press finds it again.

    ``body`` of a dose given: on, cvx, lot, expires, route, site, position, volume_ml,
    needle, groups, dose_numbers, place, override. Of a correction: reason, and either
    ``undone`` (the dose was not given) or ``fields`` (what it should have said).
    """

    chain = "ledger"

    key = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=10, choices=[(k, k) for k in (GIVEN, CORRECTED, REACTION)])
    child = models.ForeignKey(ChildRecord, on_delete=models.PROTECT, related_name="entries")
    visit = models.ForeignKey(Appointment, null=True, on_delete=models.PROTECT)
    lot = models.ForeignKey(Lot, null=True, on_delete=models.PROTECT)
    corrects = models.ForeignKey(
        "self", null=True, on_delete=models.PROTECT, related_name="corrections"
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT)
    body = models.JSONField()

    class Meta(ChainedEntry.Meta):
        pass
