"""Every role against every address: allowed where the role may, refused where it may not."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from django.utils import timezone

from traywise.workbench.accounts.roles import MAY, ROLES

pytestmark = pytest.mark.django_db

# What each deed means was agreed with the issue's list of roles; a change here is a decision.
EXPECTED = {
    "look": {"reception", "vaccinator", "coordinator", "reader"},
    "receive children": {"reception", "vaccinator", "coordinator"},
    "screen": {"vaccinator", "coordinator"},
    "give": {"vaccinator", "coordinator"},
    "override": {"coordinator"},
    "correct": {"vaccinator", "coordinator"},
    "keep the shelf": {"vaccinator", "coordinator"},
    "keep the staff": {"coordinator"},
    "read the trail": {"coordinator"},
}
OPEN = {"home", "sign-in", "sign-in-code", "sign-out", "first", "healthy"}
# One address of each view that changes or shows what only some may.
NEEDS = {
    "day": "look",
    "child": "look",
    "tray": "look",
    "shelf": "look",
    "ledger": "look",
    "day-paper": "look",
    "roster": "receive children",
    "import": "receive children",
    "child-new": "receive children",
    "child-edit": "receive children",
    "past-dose": "receive children",
    "add-visit": "receive children",
    "step": "receive children",
    "screen": "screen",
    "start": "give",
    "give": "give",
    "change": "give",
    "decide": "give",
    "plan": "give",
    "stop-here": "give",
    "lay-again": "give",
    "reaction": "give",
    "receive": "keep the shelf",
    "lot-move": "keep the shelf",
    "supply": "keep the shelf",
    "correct": "correct",
    "staff": "keep the staff",
    "staff-new": "keep the staff",
    "staff-one": "keep the staff",
    "own-factor": "look",
    "factor-reset": "keep the staff",
    "trail": "read the trail",
    "trail-check": "read the trail",
}
VALUES = {"text": "2026-11-24", "name": "arrive", "what": "count", "language": "en", "how": "undo"}


def patterns(resolver: Any = None) -> Iterator[URLPattern]:
    for item in (resolver or get_resolver()).url_patterns:
        if isinstance(item, URLResolver):
            yield from patterns(item)
        else:
            yield item


def address(pattern: URLPattern) -> str:
    from django.urls import reverse

    names = pattern.pattern.regex.groupindex or pattern.pattern.converters
    kwargs = {name: VALUES.get(name, 1) for name in names}
    return reverse(pattern.name, kwargs=kwargs)


ALL = sorted(patterns(), key=lambda pattern: pattern.name)


def test_the_deeds_are_for_the_agreed_roles() -> None:
    assert {deed: set(roles) for deed, roles in MAY.items()} == EXPECTED


@pytest.mark.parametrize("pattern", ALL, ids=lambda pattern: pattern.name)
def test_every_view_says_who_may(pattern: URLPattern) -> None:
    needs = pattern.callback.needs  # an unmarked view has none and fails here
    assert (needs is None) == (pattern.name in OPEN)
    assert NEEDS.get(pattern.name, needs) == needs


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("role", [*ROLES, None])
def test_every_role_at_every_address(
    role: str | None, method: str, as_role: Callable[[str], Any], demo: Any
) -> None:
    from traywise.workbench.children.models import DraftRow, Import
    from traywise.workbench.shelf.models import Supply

    client = as_role(role) if role else Client()
    source = Import.objects.create(
        file_name="x.csv", text="id,born\n", day=timezone.localdate(), by=demo_coordinator()
    )
    DraftRow.objects.create(source=source, entry="x.csv, line 2")
    assert Supply.objects.exists()
    wrong = []
    for pattern in ALL:
        needs = pattern.callback.needs
        if needs is None:
            continue
        status, where = call(client, method, address(pattern))
        if role is None:
            fine = status == 302 and where.startswith("/sign-in/")
        elif role in EXPECTED[needs]:
            # Allowed: a page, a way on, a missing entry or a wrong method, but no refusal.
            fine = status in (200, 204, 302, 400, 404, 405, 409)
            fine = fine and not where.startswith("/sign-in/")
        else:
            fine = status == 403
        if not fine:
            wrong.append((pattern.name, status, where))
        if role and pattern.name in ("rest", "wake"):
            client = as_role(role)
    assert wrong == []


def demo_coordinator() -> Any:
    from traywise.workbench.accounts.models import Staff

    return Staff.objects.get(username="okonvale")


def call(client: Any, method: str, path: str) -> tuple[int, str]:
    response = getattr(client, method)(path)
    return response.status_code, response.headers.get("Location", "")


def test_a_refusal_changes_nothing_and_is_in_the_trail(
    as_role: Callable[[str], Any], demo: Any
) -> None:
    from traywise.workbench.audit.models import AuditEntry
    from traywise.workbench.shelf.models import Lot

    lot = Lot.objects.first()
    response = as_role("reader").post(f"/shelf/lot/{lot.pk}/waste/", {"doses": 1, "note": "x"})
    assert response.status_code == 403
    assert b"Not with your role" in response.content
    before = lot.doses_left
    lot.refresh_from_db()
    assert lot.doses_left == before
    assert AuditEntry.objects.filter(did="was refused", who="reader").exists()


def test_a_vaccinator_cannot_release_a_lot_that_is_set_apart(
    as_role: Callable[[str], Any], demo: Any
) -> None:
    from traywise.workbench.shelf.models import Lot

    lot = Lot.objects.get(lot="FM2609")
    as_role("vaccinator").post(f"/shelf/lot/{lot.pk}/release/")
    lot.refresh_from_db()
    assert lot.quarantined
    as_role("coordinator").post(f"/shelf/lot/{lot.pk}/release/")
    lot.refresh_from_db()
    assert not lot.quarantined
