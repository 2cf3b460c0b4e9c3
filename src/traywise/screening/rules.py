"""Screening rules as data: the rows of ``tables/screening.toml`` and ``tables/steroids.toml``."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Literal

import msgspec

from traywise.calendar import Span
from traywise.errors import Fault
from traywise.rulebook.conditions import conditions
from traywise.rulebook.tables import EDITIONS, load_table, place, require

Kind = Literal["contraindication", "precaution", "care", "not a reason"]
Action = Literal["never", "defer", "switch", "ask", "give"]


class ScreeningRule(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a condition means for which vaccines; the head of the table explains the fields.

    Ages and weights limit the child. ``groups`` alone means whole groups; antigens, cvx,
    live, routes and combined narrow to products. ``wait`` moves the date until which a
    deferral holds; without it the deferral ends with the condition.
    """

    key: str
    when: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    age_from: Span | None = None
    age_before: Span | None = None
    birth_weight_from_g: int | None = None
    birth_weight_below_g: int | None = None
    gestation_below_weeks: int | None = None
    first_dose_of: tuple[str, ...] = ()
    all_groups: bool = False
    groups: tuple[str, ...] = ()
    except_groups: tuple[str, ...] = ()
    antigens: tuple[str, ...] = ()
    cvx: tuple[str, ...] = ()
    except_cvx: tuple[str, ...] = ()
    live: bool = False
    routes: tuple[str, ...] = ()
    combined: tuple[str, ...] = ()
    by: Literal["", "group", "component", "latex", "product", "product without wait"] = ""
    kind: Kind
    action: Action
    wait: Span | None = None
    wait_from: Literal["", "start", "end", "birth", "last dose"] = ""
    wait_antigens: tuple[str, ...] = ()
    lead: Span | None = None
    until_text: str = ""
    text: str
    source: str

    @property
    def narrows(self) -> bool:
        """Whether the rule is about some products of a group rather than the whole group."""
        filters = (self.antigens, self.cvx, self.except_cvx, self.routes, self.combined)
        return self.live or any(filters) or self.by in ("component", "latex")


class SteroidLimit(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """From which dose (mg a day, or mg/kg a day) and for how many days a steroid counts.

    high, low, unclear  condition keys for above, below and not known
    """

    key: str
    mg_per_day_from: float
    mg_per_kg_day_from: float
    days_from: int
    high: str
    low: str
    unclear: str
    source: str


@cache
def screening_rules() -> tuple[ScreeningRule, ...]:
    """All rules in the order of the table; raises RulebookError when it is not fit for use."""
    rows = load_table("screening", ScreeningRule)
    return require(rows, rule_faults(rows))


@cache
def steroid_limit() -> SteroidLimit:
    """The one row of the steroid table."""
    return load_table("steroids", SteroidLimit)[0]


def rule_faults(rows: Iterable[ScreeningRule]) -> list[Fault]:
    """Faults that show only when rows and condition keys are seen together."""
    path = EDITIONS / "tables" / "screening.toml"
    faults = []
    for row in rows:
        where = f'row "{row.key}"'
        faults += [
            Fault(
                "rulebook.E031", place(path, where), f'"{key}" is not a condition key. Correct it.'
            )
            for key in (*row.when, *row.unless)
            if key not in conditions()
        ]
        if (row.wait is None) != (not row.wait_from):
            said = "Write wait and wait_from together or neither."
            faults.append(Fault("rulebook.E032", place(path, where), said))
        if not (row.all_groups or row.groups or row.live or row.by):
            said = "Say which groups or products it is about."
            faults.append(Fault("rulebook.E033", place(path, where), said))
    return faults
