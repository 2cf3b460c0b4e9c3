"""What every visit needs beside vaccines: rows of ``tables/visit.toml``."""

from __future__ import annotations

from functools import cache
from typing import Literal

import msgspec

from traywise.calendar import Span
from traywise.rulebook.tables import load_table


class VisitSupply(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An item laid ready: for each injection, labelled syringe or visit, or where a step asks.

    ``step``: once for each place whose steps need it; ``vial``: shared by all from one vial.
    """

    key: str
    item: str
    per: Literal["injection", "syringe", "visit", "step", "vial"]
    count: int
    source: str


class Watch(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How long a child is watched after the last dose."""

    key: str
    minutes: int
    text: str
    source: str
    age_from: Span | None = None
    age_before: Span | None = None


class EmergencyDose(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The dose of an emergency drug by weight; ``largest_mg_then`` from ``largest_mg_from_kg``."""

    key: str
    drug: str
    mg_per_kg: float
    mg_per_ml: float
    largest_mg: float
    largest_mg_from_kg: float
    largest_mg_then: float
    text: str
    source: str

    def ml_for(self, weight_kg: float) -> float:
        """Volume in mL, to a hundredth."""
        most = self.largest_mg if weight_kg < self.largest_mg_from_kg else self.largest_mg_then
        return round(min(weight_kg * self.mg_per_kg, most) / self.mg_per_ml, 2)


@cache
def visit_supplies() -> tuple[VisitSupply, ...]:
    """Supplies laid ready at every visit."""
    return load_table("visit", VisitSupply)


@cache
def watches() -> tuple[Watch, ...]:
    """Watching times, by age."""
    return load_table("visit", Watch, "watch")


@cache
def emergency_doses() -> tuple[EmergencyDose, ...]:
    """Emergency drugs to have at hand."""
    return load_table("visit", EmergencyDose, "emergency")
