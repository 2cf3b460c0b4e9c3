"""The child's record as a file would hold it, with the few fields that are searched."""

from __future__ import annotations

import msgspec
from django.conf import settings
from django.db import models
from django.utils import timezone

from traywise.record.child import Child


class ChildRecord(models.Model):
    """One child. ``record`` is the record's JSON; doses given here live in the ledger."""

    record_id = models.CharField("id in the record", max_length=80, unique=True)
    name = models.CharField(max_length=120, db_index=True)
    born = models.DateField(db_index=True)
    record = models.JSONField()
    version = models.PositiveIntegerField(default=1)
    updated_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["name", "born"]

    def __str__(self) -> str:
        return str(self.name)

    def read(self) -> Child:
        """The record as typed data, without what the ledger adds."""
        return msgspec.convert(self.record, Child)

    def keep(self, child: Child) -> bool:
        """Take over a changed record, unless somebody changed it since it was read.

        Returns whether it was kept. The version also tells cached answers apart.
        """
        changed = ChildRecord.objects.filter(pk=self.pk, version=self.version).update(
            record=msgspec.to_builtins(child),
            name=child.name or child.id,
            born=child.born,
            version=self.version + 1,
            updated_at=timezone.now(),
        )
        if changed:
            self.refresh_from_db()
        return bool(changed)


def new_child(child: Child) -> ChildRecord:
    """Store a child that was read from somewhere."""
    return ChildRecord.objects.create(
        record_id=child.id,
        name=child.name or child.id,
        born=child.born,
        record=msgspec.to_builtins(child),
    )


class Import(models.Model):
    """One dropped file, kept as text; mending changes the text and reads it again."""

    file_name = models.CharField(max_length=200)
    text = models.TextField()
    date_order = models.CharField(max_length=3, blank=True)  # "dmy", "mdy": said by a person
    file_faults = models.JSONField(default=list)
    day = models.DateField(db_index=True)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT)

    class Meta:
        ordering = ["-id"]


class DraftRow(models.Model):
    """One child of a dropped file: taken in, waiting to be mended, or set aside by a person."""

    WAITING, TAKEN, ASIDE = "waiting", "taken", "aside"

    source = models.ForeignKey(Import, on_delete=models.CASCADE, related_name="rows")
    entry = models.CharField(max_length=300)  # where the child's entry begins: "x.csv, line 4"
    child_id_text = models.CharField(max_length=200, blank=True)
    faults = models.JSONField(default=list)  # [[code, at, text], ...]
    state = models.CharField(
        max_length=10, default=WAITING, choices=[(s, s) for s in (WAITING, TAKEN, ASIDE)]
    )
    child = models.ForeignKey(ChildRecord, null=True, on_delete=models.SET_NULL)

    class Meta:
        ordering = ["source", "id"]
        constraints = [
            models.UniqueConstraint(fields=["source", "entry"], name="one_draft_an_entry")
        ]
