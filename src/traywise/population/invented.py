"""The rows of which invented populations are made: ``editions/tables/invented-*.toml``."""

from __future__ import annotations

from datetime import date
from functools import cache
from typing import Literal

import msgspec

from traywise.calendar import Span
from traywise.rulebook.tables import load_table


class InventedDose(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A product at a visit: age of the visit, share of the children at the visit who get it.

    way          product sets it belongs to; empty for all children
    season       "month-day": given every year within ``spread_days`` from then, from ``age`` on
    given_from, given_before  days between which the product was in use
    """

    key: str
    age: Span
    cvx: str
    share: float
    source: str
    way: tuple[str, ...] = ()
    age_before: Span | None = None
    given_from: date | None = None
    given_before: date | None = None
    season: str = ""
    spread_days: int = 1


class InventedWay(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A product set; ``key`` is kind, stroke, name; shares within a kind sum to one."""

    key: str
    share: float
    source: str


class InventedFamily(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a family keeps appointments; see the head of the table."""

    key: str
    share: float
    delay_days: float
    skip: float
    stop: float
    source: str
    begin_from: Span | None = None
    begin_before: Span | None = None
    forgotten: float = 0.0


class InventedMistake(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What goes wrong with a share of the doses; see the head of the table."""

    key: str
    kind: Literal["early", "twice", "wrong product"]
    share: float
    source: str
    days: int = 0
    cvx: str = ""
    instead: str = ""


class InventedCondition(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A condition key and the share of children who have it."""

    key: str
    share: float
    source: str


class InventedMeasure(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A measured value, bell-shaped between limits, missing for a share of the children."""

    key: str
    mean: float
    spread: float
    low: int
    high: int
    missing: float
    source: str


class Invention(msgspec.Struct, frozen=True, kw_only=True):
    """All rows together."""

    doses: tuple[InventedDose, ...]
    ways: tuple[InventedWay, ...]
    families: tuple[InventedFamily, ...]
    mistakes: tuple[InventedMistake, ...]
    conditions: tuple[InventedCondition, ...]
    measures: tuple[InventedMeasure, ...]


@cache
def invention() -> Invention:
    """The rows; raises RulebookError when a table is not fit for use."""
    return Invention(
        doses=load_table("invented-doses", InventedDose),
        ways=load_table("invented-ways", InventedWay),
        families=load_table("invented-families", InventedFamily),
        mistakes=load_table("invented-mistakes", InventedMistake),
        conditions=load_table("invented-conditions", InventedCondition),
        measures=load_table("invented-measures", InventedMeasure),
    )
