"""The answer of the schedule for one child: the shapes that other rooms and programs read."""

from __future__ import annotations

from datetime import date

import msgspec

from traywise.errors import Fault

STATUSES = (
    "due",
    "overdue",
    "not yet",
    "complete",
    "immune",
    "contraindicated",
    "deferred",
    "aged out",
    "clinician decides",
    "not recommended",
)


class DoseVerdict(msgspec.Struct, frozen=True, kw_only=True):
    """How one group judges one dose given: valid, not valid or extra, and why."""

    status: str
    reason: str | None
    row: str
    source: str


class DoseJudged(msgspec.Struct, frozen=True, kw_only=True):
    """One dose given, judged by every group that it serves."""

    on: date
    cvx: str
    groups: dict[str, DoseVerdict]


class GroupForecast(msgspec.Struct, frozen=True, kw_only=True):
    """What comes next in one group.

    earliest  first day the dose would count, grace aside; due >= earliest
    row       key of the row that answers; ``products``: vaccine keys that may serve
    chain     the rows and dates that led here, in sentences (only when asked for)
    """

    status: str
    next_dose: int | None = None
    earliest: date | None = None
    due: date | None = None
    overdue: date | None = None
    latest: date | None = None
    row: str = ""
    why: str = ""
    source: str = ""
    products: tuple[str, ...] = ()
    valid_doses: int = 0
    until: date | None = None  # deferred: wait until this day
    urgent: bool = False  # within hours
    unconfirmed: bool = False  # the row's value is from memory
    chain: tuple[str, ...] = ()


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """The whole answer for one child on one day."""

    id: str
    assess_on: date
    edition: str
    doses: tuple[DoseJudged, ...] = ()
    groups: dict[str, GroupForecast] = {}
    errors: tuple[Fault, ...] = ()
    warnings: tuple[Fault, ...] = ()
