"""A child's record: what is known, typed and frozen. None means unknown, never "no"."""

from __future__ import annotations

from datetime import date
from typing import NewType

import msgspec

CvxCode = NewType("CvxCode", str)
"""CDC vaccine code as text, two digits at least: "03", "110". Only a reader creates one."""


class DoseGiven(msgspec.Struct, frozen=True, kw_only=True):
    """One entry of the history: what the record says was given."""

    on: date
    cvx: CvxCode
    mvx: str | None = None
    lot: str | None = None
    expires: date | None = None
    route: str | None = None  # IM, SC, PO, NAS, ID
    site: str | None = None  # HL7 table 0163
    volume_ml: float | None = None
    full: bool | None = None  # False: less than a full dose was given
    campaign: bool | None = None  # True: given in a mass campaign, outside the routine series
    note: str | None = None


class Condition(msgspec.Struct, frozen=True, kw_only=True):
    """A condition key of the rulebook, from and until where known (both days included)."""

    key: str
    since: date | None = msgspec.field(default=None, name="from")
    until: date | None = None

    def holds_on(self, day: date) -> bool:
        return (self.since is None or self.since <= day) and (
            self.until is None or day <= self.until
        )


class ProductReceived(msgspec.Struct, frozen=True, kw_only=True):
    """An antibody-containing product: the kind is a key of the interval table."""

    on: date
    kind: str


class Child(msgspec.Struct, frozen=True, kw_only=True):
    """One child as the record knows it. ``doses`` keep the order of the record."""

    id: str
    born: date
    name: str | None = None
    sex: str | None = None  # F, M, X
    gestation_weeks: int | None = None
    birth_weight_g: int | None = None
    weight_kg: float | None = None
    weighed_on: date | None = None
    height_cm: float | None = None
    doses: tuple[DoseGiven, ...] = ()
    conditions: tuple[Condition, ...] = ()
    answers: dict[str, str | int | float | bool] = {}
    products: tuple[ProductReceived, ...] = ()
    avoid: tuple[str, ...] = ()  # limbs not to use, HL7 0163: LT, RT, LA, RA
    appointment: str | None = None  # "09:20"
    assess_on: date | None = None

    def conditions_on(self, day: date) -> frozenset[str]:
        """Keys of the conditions that hold on a day."""
        return frozenset(c.key for c in self.conditions if c.holds_on(day))
