"""What every page of one visit needs: the visit with its parts, and how far it has come."""

from __future__ import annotations

from datetime import date
from typing import Any

import msgspec
from django.db.models import Prefetch
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from traywise.calendar import Age, age_on
from traywise.record.child import Child
from traywise.tray.plan import Place, Tray
from traywise.workbench.asking.history import whole_child
from traywise.workbench.asking.trays import laid_tray
from traywise.workbench.audit.seen import note_seen
from traywise.workbench.day.models import Appointment
from traywise.workbench.giving.models import LaidTray
from traywise.workbench.ledger.effects import GivenDose, standing_doses
from traywise.workbench.ledger.models import LedgerEntry


def find_visit(request: HttpRequest, pk: int, page: str) -> Appointment:
    """The visit with its child, answers, trays and ledger; the look at it is written down."""
    visit = whole_visit(pk)
    note_seen(request, page, visit.child.record_id)
    return visit


def find_visit_alone(request: HttpRequest, pk: int, page: str) -> Appointment:
    """The visit and its child only, for a page that may be drawn already."""
    visit = get_object_or_404(Appointment.objects.select_related("child"), pk=pk)
    note_seen(request, page, visit.child.record_id)
    return visit


def whole_visit(pk: int) -> Appointment:
    """The visit with all that the rooms below are told of it."""
    return get_object_or_404(
        Appointment.objects.select_related("child").prefetch_related(
            Prefetch("child__entries", queryset=LedgerEntry.objects.order_by("number")),
            "answers__by",
            "changes",
            Prefetch("trays", queryset=LaidTray.objects.order_by("-id")),
        ),
        pk=pk,
    )


class Round(msgspec.Struct, frozen=True, kw_only=True):
    """The giving of one laid tray: which places are done, which is next."""

    laid: int
    tray: Tray
    done: dict[int, GivenDose]
    turns: dict[int, int]

    @property
    def next_place(self) -> Place | None:
        """The first place in the order of giving that is not given yet."""
        return next((place for place in self.tray.tray if place.n not in self.done), None)

    @property
    def agreed(self) -> frozenset[str]:
        """Groups of the tray as laid."""
        return frozenset(group for place in self.tray.tray for group in place.groups)


def round_of(visit: Appointment) -> Round | None:
    """How far giving has come; None while no tray is laid."""
    found = laid_tray(visit)
    if found is None:
        return None
    laid, tray = found
    here = [d for d in standing_doses(visit.child.entries.all()) if d.entry.visit_id == visit.pk]
    done = {dose.body["place"]: dose for dose in here if not dose.undone}
    turns = {
        place.n: sum(1 for d in here if d.body["place"] == place.n and d.undone)
        for place in tray.tray
    }
    return Round(laid=laid, tray=tray, done=done, turns=turns)


def facts(visit: Appointment) -> dict[str, Any]:
    """Head of every page of the visit."""
    child: Child = whole_child(visit.child, visit)
    day: date = visit.day
    age: Age | None = age_on(child.born, day) if child.born <= day else None
    return {"visit": visit, "record": visit.child, "whole": child, "age": age}
