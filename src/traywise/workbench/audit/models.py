"""The audit trail's entries."""

from __future__ import annotations

from typing import Any

from django.db import models

from traywise.workbench.audit.chain import ChainedEntry, ChainHead

__all__ = ["AuditEntry", "ChainHead", "note"]


class AuditEntry(ChainedEntry):
    """One thing someone saw or did. ``who`` is the sign-in name as it was then."""

    chain = "audit"

    who = models.CharField(max_length=60, db_index=True)
    role = models.CharField(max_length=20, blank=True)
    did = models.CharField(max_length=60, db_index=True)
    child = models.CharField(max_length=80, blank=True, db_index=True)
    detail = models.CharField(max_length=300, blank=True)
    address = models.CharField(max_length=60, blank=True)

    class Meta(ChainedEntry.Meta):
        pass


def note(request: Any, did: str, child: str = "", detail: str = "") -> AuditEntry:
    """Write down what the person of this request saw or did."""
    user: Any = getattr(request, "user", None)
    known = user is not None and user.is_authenticated
    return AuditEntry.append(
        who=user.username if known else "",
        role=user.role if known else "",
        did=did,
        child=child,
        detail=detail[:300],
        address=request.META.get("REMOTE_ADDR", "")[:60],
    )
