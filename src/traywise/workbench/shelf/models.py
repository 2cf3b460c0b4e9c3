"""Lots and open vials; every movement is an entry, and the count is their sum."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import RegexValidator
from django.db import models
from django.utils import timezone

PRESENTATIONS = (
    "prefilled",
    "vial",
    "vial+diluent",
    "multidose",
    "oral",
    "spray",
    "ampoule",
)


class Lot(models.Model):
    """One lot in one unit. ``doses_left`` is the sum of its entries; the database
    itself refuses a number below none."""

    lot = models.CharField(max_length=40, validators=[RegexValidator(r"^\S+$", "No spaces.")])
    cvx = models.CharField("CVX code", max_length=4)
    vaccine = models.CharField("product", max_length=60, blank=True)  # key of vaccines.toml
    mvx = models.CharField("MVX code", max_length=5, blank=True)
    presentation = models.CharField(max_length=15, choices=[(p, p) for p in PRESENTATIONS])
    expires = models.DateField()
    funding = models.CharField(
        max_length=10,
        blank=True,
        choices=[("", "any"), ("public", "public"), ("private", "private")],
    )
    unit = models.CharField("fridge or freezer", max_length=40, blank=True)
    gtin = models.CharField("GTIN", max_length=14, blank=True, db_index=True)
    doses_left = models.IntegerField(default=0)
    doses_per_vial = models.PositiveIntegerField(null=True, blank=True)
    quarantined = models.CharField("set apart because", max_length=200, blank=True)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["expires", "lot"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(doses_left__gte=0), name="stock_never_negative"
            ),
            models.UniqueConstraint(
                fields=["lot", "cvx", "funding", "unit"], name="one_row_per_lot_and_unit"
            ),
        ]

    def __str__(self) -> str:
        return str(self.lot)


class OpenVial(models.Model):
    """A multidose vial in use. Its doses are part of the lot's count."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="vials")
    opened_at = models.DateTimeField()
    discard_at = models.DateTimeField()
    doses_left = models.IntegerField()
    closed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["discard_at"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(doses_left__gte=0), name="vial_never_negative"
            )
        ]

    @property
    def is_over(self) -> bool:
        """Past its discard time."""
        return bool(timezone.now() >= self.discard_at)

    @property
    def minutes_left(self) -> int:
        return max(0, int((self.discard_at - timezone.now()).total_seconds() // 60))


class StockEntry(models.Model):
    """One movement of a lot. Never changed: the database refuses it."""

    RECEIVED, GIVEN, WASTED, COUNTED, RETURNED = (
        "received",
        "given",
        "wasted",
        "counted",
        "returned",
    )

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="entries")
    delta = models.IntegerField()
    reason = models.CharField(
        max_length=10, choices=[(r, r) for r in (RECEIVED, GIVEN, WASTED, COUNTED, RETURNED)]
    )
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT)
    key = models.CharField(max_length=80, unique=True)  # the press that caused it

    class Meta:
        ordering = ["-id"]


class Supply(models.Model):
    """Needles, syringes and the rest, counted. Boxes of one kind that expire on different
    days are rows of their own."""

    item = models.CharField(max_length=30)
    gauge = models.PositiveIntegerField(null=True, blank=True)
    length_mm = models.PositiveIntegerField(null=True, blank=True)
    volume_ml = models.FloatField(null=True, blank=True)
    count = models.PositiveIntegerField(default=0)
    expires = models.DateField(null=True, blank=True)  # last day of use; empty: none is known
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["item", "gauge", "length_mm", "volume_ml", "expires", "id"]
