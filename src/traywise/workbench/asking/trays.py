"""The tray of one visit: as laid when giving has begun, else composed now and kept a while."""

from __future__ import annotations

import hashlib
import logging
from datetime import date

import msgspec
from django.conf import settings
from django.utils import timezone

from traywise.equipment.place import SupplyOnHand
from traywise.errors import TraywiseError
from traywise.record.child import Child
from traywise.shelf.lot import Lot as ShelfLot
from traywise.tray.compose import Visit, compose_tray
from traywise.tray.plan import Tray
from traywise.workbench.asking.changes import Changed, Wish, change_tray, need_behind
from traywise.workbench.asking.history import before_today, stamp_of, whole_child
from traywise.workbench.asking.memory import Memory
from traywise.workbench.asking.needle_policy import clinic_policy
from traywise.workbench.asking.session_plan import (
    Planned,
    keep_to_plan,
    plan_together,
    visits_to_plan,
)
from traywise.workbench.asking.shelf_rows import supply_on_hand, whole_shelf
from traywise.workbench.asking.stamps import shelf_stamp, visit_stamp
from traywise.workbench.day.models import Appointment
from traywise.workbench.shelf.models import Supply

_log = logging.getLogger("django.traywise")  # where the server's own faults are written
ENOUGH = 2  # a child takes at most two doses of one lot; more in it changes no tray


class Stock(msgspec.Struct, frozen=True, kw_only=True):
    """The shelf and the supplies at one moment, and a stamp that changes when a tray could."""

    lots: tuple[ShelfLot, ...]
    supplies: tuple[SupplyOnHand, ...] | None
    stamp: str


def stock_now() -> Stock:
    """The shelf as it is. What it was read as is kept until a lot or a supply changes."""
    read = _stock.get(shelf_stamp(), _read_stock)
    now = timezone.now()
    over = [lot.key for lot in read.lots if lot.discard_at is not None and lot.discard_at <= now]
    return msgspec.structs.replace(read, stamp=f"{read.stamp}{over or ''}")


def _read_stock() -> Stock:
    lots = whole_shelf()
    supplies = tuple(supply_on_hand(row) for row in Supply.objects.all())
    parts = [(*lot.key, lot.held, str(lot.expires), min(lot.doses, ENOUGH)) for lot in lots]
    text = repr((parts, supplies)).encode()
    stamp = hashlib.sha256(text).hexdigest()[:16]
    return Stock(lots=lots, supplies=supplies or None, stamp=stamp)


_stock: Memory[Stock] = Memory(4)
_kept: Memory[Visit] = Memory(4000)
_changed: Memory[Changed] = Memory(1000)


def laid_tray(visit: Appointment) -> tuple[int, Tray] | None:
    """The latest tray that was laid for this visit, with its number."""
    trays = sorted(visit.trays.all(), key=lambda tray: -int(tray.pk))
    return (trays[0].pk, msgspec.convert(trays[0].tray, Tray)) if trays else None


def planned(visit: Appointment, stock: Stock | None = None) -> Changed:
    """The tray as the rooms compose it from what is known now, with this visit's changes."""
    stock = stock or stock_now()
    composed = compose_for(visit, stock)
    wishes = wishes_of(visit)
    if not wishes:
        return Changed(tray=composed.tray)
    key = f"{_key(visit, stock)}|{wishes}"
    return _changed.get(
        key,
        lambda: change_tray(
            composed,
            child_of(visit),
            visit.day,
            stock.lots,
            stock.supplies,
            wishes,
            decided_groups(visit),
        ),
    )


def compose_for(visit: Appointment, stock: Stock) -> Visit:
    """The composed visit, before any change of the vaccinator's."""
    key = f"{_key(visit, stock)}|{visit.planned}"
    return _kept.get(key, lambda: _compose_planned(visit, stock))


def _compose_planned(visit: Appointment, stock: Stock) -> Visit:
    """With the picks of the session's plan where there is one and it still fits."""
    child, asked = child_of(visit), decided_groups(visit)
    alone = _compose(child, visit.day, stock, asked)
    if not visit.planned:
        return alone
    need = need_behind(alone, child, visit.day, asked)
    planned = msgspec.convert(visit.planned, Planned)
    return keep_to_plan(alone, planned, child, visit.day, need, stock, asked)


def plan_day_together(day: date) -> int:
    """Plan all trays whose giving has not begun; how many."""
    visits = visits_to_plan(day)
    asked = frozenset(group for visit in visits for group in decided_groups(visit))
    return plan_together(visits, [_planning(visit) for visit in visits], stock_now(), asked)


def _planning(visit: Appointment) -> Child:
    """The child with the time of the appointment, by which vials are opened and finished."""
    return msgspec.structs.replace(child_of(visit), appointment=visit.time or None)


def child_of(visit: Appointment) -> Child:
    """The child as of the morning of the visit."""
    return before_today(whole_child(visit.child, visit), visit.day)


def tray_stamp(visit: Appointment, stock: Stock) -> str:
    """Changes when the visit's tray page would. Needs no more of the visit than visit and child."""
    return "|".join(
        (
            visit_stamp(visit.pk, visit.child_id),
            f"{visit.pk}.{visit.child.version}.{visit.changed_at}.{visit.time}.{visit.state}",
            f"{visit.day == timezone.localdate()}",
            settings.EDITION,
            clinic_policy(),
            stock.stamp,
        )
    )


def _key(visit: Appointment, stock: Stock) -> str:
    return "|".join(
        (
            stamp_of(visit.child, visit),
            f"{visit.day} {visit.day == timezone.localdate()}",  # today the hour counts
            settings.EDITION,
            clinic_policy(),
            stock.stamp,
            ",".join(sorted(decided_groups(visit))),
        )
    )


def _compose(child: Child, on: date, stock: Stock, asked: frozenset[str]) -> Visit:
    return compose_tray(
        child,
        on,
        stock.lots,
        stock.supplies,
        settings.EDITION,
        policy=clinic_policy(),
        now=timezone.now() if on == timezone.localdate() else None,
        asked=asked,
    )


def decided_groups(visit: Appointment) -> frozenset[str]:
    """Groups left to the clinician that were decided at this visit."""
    held = {c.group: c.value for c in visit.changes.all() if c.what == "decided"}
    return frozenset(group for group, value in held.items() if value == "give")


def wishes_of(visit: Appointment) -> tuple[Wish, ...]:
    """The latest change of each kind and place; an empty value takes it back."""
    held: dict[tuple[str, str], str] = {}
    for change in visit.changes.all():
        if change.what != "decided":
            held[(change.group, change.what)] = change.value
    return tuple(Wish(group, what, value) for (group, what), value in held.items() if value)


def tray_of(visit: Appointment, stock: Stock | None = None) -> Tray | None:
    """What this visit's pages show; None when the rulebook cannot answer.

    A fault of the program at one child is logged and takes nothing from the other children:
    the day's board stands, and this child's own page fails openly.
    """
    if visit.giving_at is not None:
        laid = laid_tray(visit)
        if laid is not None:
            return laid[1]
    try:
        return planned(visit, stock).tray
    except TraywiseError:
        return None
    except Exception:  # noqa: BLE001 - whatever it is, the other children need their trays
        _log.exception("the tray of visit %s cannot be composed", visit.pk)
        return None
