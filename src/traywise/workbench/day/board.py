"""The day's board as data: one row a child, in the order of the appointments."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from django.db.models import Prefetch
from django.utils import timezone

from traywise.calendar import age_on
from traywise.paper.wording import Status, tray_gaps, tray_status
from traywise.tray.plan import Place, Supply, Tray
from traywise.tray.supplies import supplies_together
from traywise.workbench.asking.stamps import day_stamp, shelf_stamp
from traywise.workbench.asking.trays import Stock, tray_of
from traywise.workbench.children.models import DraftRow
from traywise.workbench.day.models import (
    ARRIVED,
    AWAY,
    EXPECTED,
    GIVING,
    LEFT,
    WATCHED,
    Appointment,
)
from traywise.workbench.giving.models import LaidTray
from traywise.workbench.ledger.effects import standing_doses
from traywise.workbench.ledger.models import LedgerEntry

BAR_UNITS_PER_MM = 1.6
NO_UNIT = "unit not said"


class Chip(NamedTuple):
    """One dose on the board; the bar is as long as the needle, to scale."""

    name: str
    length_mm: int | None
    bar: float
    words: str
    given: bool


class BoardRow(NamedTuple):
    """One child's line."""

    visit: Appointment
    age: str
    chips: tuple[Chip, ...]
    status: Status
    detail: str
    tray: Tray | None
    given: int


def visits_of(day: date) -> list[Appointment]:
    """The day's visits with all that the board reads, in a fixed number of queries."""
    entries = LedgerEntry.objects.order_by("number")
    return list(
        Appointment.objects.filter(day=day)
        .select_related("child")
        .prefetch_related(
            Prefetch("child__entries", queryset=entries),
            "answers",
            "changes",
            Prefetch("trays", queryset=LaidTray.objects.order_by("-id")),
        )
    )


def build_board(day: date, stock: Stock) -> list[BoardRow]:
    """All rows of a day."""
    return [_row(visit, day, stock) for visit in visits_of(day)]


def _row(visit: Appointment, day: date, stock: Stock) -> BoardRow:
    tray = tray_of(visit, stock)
    doses = standing_doses(visit.child.entries.all())
    given = {
        dose.body.get("place")
        for dose in doses
        if dose.entry.visit_id == visit.pk and not dose.undone
    }
    status, detail = _status(visit, tray)
    return BoardRow(
        visit=visit,
        age=str(age_on(visit.child.born, day)),
        chips=tuple(_chip(place, given) for place in tray.tray) if tray else (),
        status=status,
        detail=detail,
        tray=tray,
        given=len(given),
    )


def _chip(place: Place, given: set[int | None]) -> Chip:
    length = place.needle.length_mm if place.needle else None
    words = (
        f"{length} mm"
        if length
        else {"PO": "by mouth", "NAS": "in the nose"}.get(place.route, "needle to choose")
    )
    bar = round((length or 0) * BAR_UNITS_PER_MM, 1)
    return Chip(place.vaccine, length, bar, words, place.n in given)


def _status(visit: Appointment, tray: Tray | None) -> tuple[Status, str]:
    """Shape, word and detail from arrival to leaving."""
    clock = timezone.localtime
    if visit.state == LEFT:
        return Status("●", "Left"), f"{clock(visit.left_at):%H:%M}"
    if visit.state == AWAY:
        return Status("◇", "Did not come"), ""
    if visit.state == WATCHED:
        end = clock(visit.may_leave_at)
        if visit.minutes_to_watch:
            detail = f"may leave {end:%H:%M} · {visit.minutes_to_watch} min"
            return Status("●", f"Given {clock(visit.given_at):%H:%M}"), detail
        return Status("●", "May leave"), f"watched until {end:%H:%M}"
    if visit.state == GIVING:
        return Status("◆", "Being given"), f"since {clock(visit.giving_at):%H:%M}"
    if tray is None:
        return Status("▲", "No tray"), "open the child to see why"
    status = tray_status(tray)
    if visit.state == EXPECTED:
        open_ = len(tray.questions)
        waits = (
            f"{open_} question{'' if open_ == 1 else 's'} to ask" if open_ else status.word.lower()
        )
        return Status("◇", "Not arrived"), waits
    if tray.questions:
        word = f"{len(tray.questions)} question{'' if len(tray.questions) == 1 else 's'} open"
        return Status("▲", word), f"here since {clock(visit.arrived_at):%H:%M}"
    return status, " ".join(tray_gaps(tray)) or f"here since {clock(visit.arrived_at):%H:%M}"


class DaySummary(NamedTuple):
    """The one sentence of the day and the figures beside it."""

    children: int
    doses: int
    given: int
    open_questions: int
    sentence: str


def summarise(rows: Sequence[BoardRow]) -> DaySummary:
    """What the day amounts to."""
    here = [row for row in rows if row.visit.state != AWAY]
    doses = sum(len(row.chips) for row in here)
    given = sum(row.given for row in here)
    questions = sum(
        1
        for row in here
        if row.tray and row.tray.questions and row.visit.state in (EXPECTED, ARRIVED)
    )
    children = f"{len(here)} {'child' if len(here) == 1 else 'children'}"
    sentence = f"{children}, {doses} {'dose' if doses == 1 else 'doses'} planned"
    if given:
        sentence += f", {given} given"
    return DaySummary(len(here), doses, given, questions, sentence)


class Pick(NamedTuple):
    """One line of the pick list: what to take, from where, how many."""

    unit: str
    name: str
    lot: str
    doses: int
    there: int  # usable doses of this lot in this unit

    @property
    def short(self) -> bool:
        """More is planned than lies there."""
        return self.doses > self.there


def pick_list(rows: Sequence[BoardRow], stock: Stock) -> list[Pick]:
    """What to take from which fridge for the doses not given yet, in the order of the units."""
    counted: Counter[tuple[str, str, str]] = Counter()
    for row in rows:
        if row.visit.state in (LEFT, AWAY, WATCHED) or row.tray is None:
            continue
        for place, chip in zip(row.tray.tray, row.chips, strict=True):
            if not chip.given:
                counted[(place.unit or NO_UNIT, place.vaccine, place.lot or "no lot")] += 1
    there: Counter[tuple[str, str]] = Counter()
    for lot in stock.lots:
        if not lot.held:
            there[(lot.unit or NO_UNIT, lot.lot)] += lot.doses
    return [
        Pick(unit, name, lot, count, there[(unit, lot)])
        for (unit, name, lot), count in sorted(counted.items())
    ]


def supplies_of(rows: Sequence[BoardRow]) -> tuple[Supply, ...]:
    """Needles, syringes and the rest, counted out for the trays not given yet."""
    return supplies_together(
        row.tray.supplies
        for row in rows
        if row.visit.state not in (LEFT, AWAY, WATCHED) and row.tray is not None
    )


def board_stamp(day: date) -> str:
    """Changes when the board would: a screen that shows this stamp is up to date."""
    text = "|".join(
        (
            day_stamp(day, DraftRow.WAITING),
            shelf_stamp(),
            f"{timezone.localtime():%Y-%m-%d %H:%M}",  # its minutes to watch count down
        )
    )
    return hashlib.sha256(text.encode()).hexdigest()[:20]
