"""Plans the day's trays together against the shelf as a whole, and keeps each child's picks.

The session room decides. A child whose giving has begun keeps the tray that was laid; a
planned pick that no longer fits is dropped, and that child's tray is composed alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import msgspec
from django.conf import settings
from django.db.models import Prefetch
from django.utils import timezone

from traywise.record.child import Child
from traywise.session.day import plan_day
from traywise.shelf.lot import Lot as ShelfLot
from traywise.tray.compose import Visit, compose_from
from traywise.tray.fit import Serving, fit
from traywise.tray.need import Need
from traywise.tray.plan import NotToday
from traywise.tray.products import Choice, Pick
from traywise.workbench.asking.changes import lot_key, pick_of, without_repeats
from traywise.workbench.asking.needle_policy import clinic_policy
from traywise.workbench.asking.shelf_rows import why_not_now
from traywise.workbench.day.models import ARRIVED, EXPECTED, Appointment
from traywise.workbench.ledger.models import LedgerEntry


class PlannedPick(msgspec.Struct, frozen=True, kw_only=True):
    """One product of a planned tray: the line of the shelf, and what it serves."""

    lot: str
    groups: tuple[str, ...]


class Planned(msgspec.Struct, frozen=True, kw_only=True):
    """What the session's plan gives one child, and what it cannot."""

    picks: tuple[PlannedPick, ...] = ()
    missed: tuple[NotToday, ...] = ()


SECONDS = 4.0  # what a person waits at the board for a better plan


def visits_to_plan(day: date) -> list[Appointment]:
    """Those whose giving has not begun."""
    visits = (
        Appointment.objects.filter(day=day)
        .select_related("child")
        .prefetch_related(
            Prefetch("child__entries", queryset=LedgerEntry.objects.order_by("number")),
            "answers",
            "changes",
        )
    )
    return [visit for visit in visits if visit.state in (EXPECTED, ARRIVED)]


def plan_together(
    visits: Sequence[Appointment], children: Sequence[Child], stock: Any, asked: frozenset[str]
) -> int:
    """Plan and keep the picks; the number of trays planned.

    children  one for each visit, as of the morning
    """
    if not visits:
        return 0
    day = plan_day(
        children,
        visits[0].day,
        stock.lots,
        stock.supplies,
        settings.EDITION,
        policy=clinic_policy(),
        seconds=SECONDS,
        asked=asked,
    )
    missed = {visit.child: visit.missed for visit in day.plan.visits}
    by_id = {visit.child.record_id: visit for visit in visits}
    for child, planned in zip(day.children, day.visits, strict=True):
        kept = Planned(
            picks=tuple(
                PlannedPick(lot=lot_key(pick.lot), groups=pick.groups) for pick in planned.picks
            ),
            missed=tuple(
                NotToday(group=item.group, why=item.why, until=item.until, source=item.source)
                for item in missed.get(child.id, ())
            ),
        )
        Appointment.objects.filter(pk=by_id[child.id].pk).update(
            planned=msgspec.to_builtins(kept), changed_at=timezone.now()
        )
    return len(day.visits)


def keep_to_plan(
    alone: Visit,
    planned: Planned,
    child: Child,
    on: date,
    need: Need,
    stock: Any,
    asked: frozenset[str],
) -> Visit:
    """The visit with the planned picks, or ``alone`` when they do not fit any more.

    asked  groups left to the clinician that were decided at this visit
    """
    picks = [_pick(plan, need, stock.lots) for plan in planned.picks]
    if any(pick is None for pick in picks):
        return alone
    found = tuple(pick for pick in picks if pick is not None)
    known = {group for pick in found for group in pick.groups}
    known |= {item.group for item in planned.missed}
    if {group for pick in alone.picks for group in pick.groups} - known:
        return alone  # the record changed: more is due than was planned for
    rest = tuple(item for item in alone.tray.not_today if item.group not in known)
    choice = Choice(picks=found, unserved=(*planned.missed, *rest))
    visit = compose_from(
        child,
        on,
        alone.answer,
        alone.screening,
        choice,
        stock.supplies,
        clinic_policy(),
        asked,
    )
    return msgspec.structs.replace(visit, tray=without_repeats(visit.tray))


def _pick(plan: PlannedPick, need: Need, lots: Sequence[ShelfLot]) -> Pick | None:
    lot = next((lot for lot in lots if lot_key(lot) == plan.lot), None)
    if lot is None or lot.product is None or why_not_now(lot, need.on) is not None:
        return None
    found = fit(need, lot.product, lot.presentation)
    if not isinstance(found, Serving) or set(found.groups) != set(plan.groups):
        return None
    return pick_of(lot, found, "planned with the whole session")
