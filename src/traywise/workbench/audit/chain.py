"""Entries that follow each other like links: each seals its content and the one before.

The seal is HMAC-SHA-256 with the clinic's chain key over the entry's fields as sorted
JSON, its number and the seal before it. An entry changed, taken out or put in breaks
the chain from there on; entries cut off at the end miss against the head, which keeps
number and seal of the last one. Who holds the key and the database can forge all of
it: copy the latest seal to paper or another machine if that must be excluded.
"""

from __future__ import annotations

import hashlib
import hmac
import json
from datetime import UTC, datetime
from typing import Any, ClassVar, Self

from django.conf import settings
from django.db import models, transaction
from django.utils import timezone

FIRST_SEAL = "0" * 64


class ChainHead(models.Model):
    """Number and seal of the last entry of each chain. Its row is the chain's lock."""

    name = models.CharField(max_length=20, primary_key=True)
    number = models.PositiveBigIntegerField(default=0)
    seal = models.CharField(max_length=64, default=FIRST_SEAL)

    class Meta:
        app_label = "audit"


class EditingError(Exception):
    """Someone tried to change or delete an entry."""


class ChainedEntry(models.Model):
    """Base of the ledger's and the audit trail's entries."""

    chain: ClassVar[str]

    number = models.PositiveBigIntegerField(unique=True)
    at = models.DateTimeField(db_index=True)
    before = models.CharField(max_length=64)
    seal = models.CharField(max_length=64)

    class Meta:
        abstract = True
        ordering = ["number"]

    @classmethod
    def append(cls, **fields: Any) -> Self:
        """Add one entry at the end, in the caller's transaction or its own."""
        with transaction.atomic():
            head = ChainHead.objects.select_for_update().get(name=cls.chain)
            entry = cls(number=head.number + 1, at=_now(), before=head.seal, **fields)
            entry.seal = entry.compute_seal()
            entry.save(force_insert=True)
            ChainHead.objects.filter(name=cls.chain).update(number=entry.number, seal=entry.seal)
        return entry

    def compute_seal(self) -> str:
        """The seal this entry should carry."""
        content = {
            field.attname: _plain(getattr(self, field.attname))
            for field in self._meta.concrete_fields
            if field.name not in ("id", "seal")
        }
        text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        return hmac.new(settings.CHAIN_KEY.encode(), text.encode(), hashlib.sha256).hexdigest()

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.pk is not None:
            raise EditingError(f"entry {self.number} stands; write a new one")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise EditingError(f"entry {self.number} stands; write a new one")


def _now() -> datetime:
    """To the millisecond: a backup's text keeps no more, and seals must hold after it."""
    now: datetime = timezone.now()
    return now.replace(microsecond=now.microsecond // 1000 * 1000)


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="milliseconds")
    return (
        value if isinstance(value, (str, int, float, bool, dict, list, type(None))) else str(value)
    )


def find_break(entry_type: type[ChainedEntry]) -> str | None:
    """The first place where the chain does not hold, in words; None when it holds."""
    seal, number = FIRST_SEAL, 0
    for entry in entry_type._default_manager.order_by("number").iterator(chunk_size=2000):
        if entry.number != number + 1:
            return f"entry {number + 1} is missing"
        if entry.before != seal or entry.seal != entry.compute_seal():
            return f"entry {entry.number} was changed after it was written"
        seal, number = entry.seal, entry.number
    head = ChainHead.objects.get(name=entry_type.chain)
    if (head.number, head.seal) != (number, seal):
        return f"entries after {number} are missing: the head says {head.number}"
    return None
