"""The rows of the equipment tables, typed: needles, sites, limbs, layout, syringes, steps.

Every loader reads one file of ``editions/tables`` once and keeps it. Rows follow the
printed tables; which row fits a child is decided in the files named after the question.
"""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.calendar import Span
from traywise.rulebook.tables import load_table

DEFAULT_POLICY = "acip-2024"


class Row(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What every row of these tables has."""

    key: str
    source: str


class PolicyRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One authority's choice where sources differ; rows it lacks come from ``falls_back_to``."""

    name: str
    note: str
    falls_back_to: str = ""


class NeedleRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Lengths and gauges for a route, site, age, gestation, weight and sex.

    ``kg_from`` and ``kg_to`` include the limit, ``kg_before`` and ``kg_above`` do not.
    ``gauges`` stand in order of preference; ``stretched_mm`` are the lengths that are
    enough only with the skin stretched flat. ``device``: the product's own points take the
    place of a needle, so the row lists no length and no gauge.
    """

    policy: str
    route: str
    site: str
    age_from: Span
    age_before: Span
    born_before_weeks: int | None = None
    sex: str | None = None
    kg_from: float | None = None
    kg_above: float | None = None
    kg_before: float | None = None
    kg_to: float | None = None
    lengths_mm: tuple[int, ...]
    default_mm: int = 0
    device: str = ""
    stretched_mm: tuple[int, ...] = ()
    gauges: tuple[int, ...]
    why: str
    default_source: str
    caution: str = ""

    def fits_weight(self, weight_kg: float | None) -> bool:
        """Whether the weight lies within the row; a row with limits needs a known weight."""
        if not self.limits_weight:
            return True
        return (
            weight_kg is not None
            and (self.kg_from is None or weight_kg >= self.kg_from)
            and (self.kg_above is None or weight_kg > self.kg_above)
            and (self.kg_before is None or weight_kg < self.kg_before)
            and (self.kg_to is None or weight_kg <= self.kg_to)
        )

    @property
    def limits_weight(self) -> bool:
        return any(
            limit is not None for limit in (self.kg_from, self.kg_above, self.kg_before, self.kg_to)
        )


class InchRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A needle length as the trade writes it."""

    mm: int
    inches: str
    value: float


class SiteRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A place on the body: HL7 0163 codes of both sides, the short spot and the landmark."""

    name: str
    limb: str  # leg, arm
    left: str
    right: str
    spot: str
    landmark: str


class ChoiceRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Sites a route may take at an age, preferred first; ``muscle``: only if it is adequate."""

    policy: str
    route: str
    age_from: Span
    age_before: Span
    sites: tuple[str, ...]
    muscle: tuple[str, ...] = ()
    why: str


class LimbRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How many injections a site (or a whole limb: leg, arm) takes at one visit.

    A row of a policy stands before those for all; ``adult_most``: only where the muscle is
    judged adult-size.
    """

    policy: str = ""
    at: str
    age_from: Span
    age_before: Span
    normal: int
    most: int
    adequate_normal: int | None = None
    adequate_most: int | None = None
    adult_most: int | None = None
    small_most: int | None = None


class RuleRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A figure of the layout rules and what it means."""

    text: str
    value: int = 0


class PairRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Two groups that go in different limbs."""

    one: str
    other: str


class GroupRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A group that comes first or last among equals, or that has a home side."""

    group: str
    side: str = ""


class VolumeRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A convention on volume per injection: a warning, never a block."""

    site: str
    age_from: Span
    age_before: Span
    warn_above_ml: float


class SyringeRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A syringe for a route, presentation and volume.

    ``set``: one piece with its needle; ``exact``: only for a dose of just one of its sizes.
    """

    policy: str = ""
    routes: tuple[str, ...] = ()
    presentations: tuple[str, ...] = ()
    up_to_ml: float | None = None
    sizes_ml: tuple[float, ...] = ()
    text: str
    set: bool = False
    exact: bool = False


class TechniqueRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How the needle goes in."""

    route: str
    text: str
    angle_deg: int | None = None
    stretched: bool = False


class StepRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One step or caution and when it applies; empty limits apply to all.

    ``needs``: keys of ``visit.toml`` for what the step uses beside needle and syringe.
    """

    stage: str  # prepare, position, give, after, caution
    text: str
    policies: tuple[str, ...] = ()
    routes: tuple[str, ...] = ()
    presentations: tuple[str, ...] = ()
    groups: tuple[str, ...] = ()
    age_from: Span | None = None
    age_before: Span | None = None
    when: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()


@cache
def policies() -> dict[str, PolicyRow]:
    """Needle policies by key."""
    return {row.key: row for row in load_table("needles", PolicyRow, "policy")}


@cache
def needle_rows() -> tuple[NeedleRow, ...]:
    return load_table("needles", NeedleRow)


@cache
def inch_rows() -> tuple[InchRow, ...]:
    return load_table("needles", InchRow, "inch")


@cache
def sites() -> dict[str, SiteRow]:
    """Sites by key: thigh, deltoid, triceps, upper-arm, ventrogluteal."""
    return {row.key: row for row in load_table("sites", SiteRow, "site")}


@cache
def choice_rows() -> tuple[ChoiceRow, ...]:
    return load_table("sites", ChoiceRow, "choice")


@cache
def limb_rows() -> tuple[LimbRow, ...]:
    return load_table("limbs", LimbRow)


@cache
def rules() -> dict[str, RuleRow]:
    """Figures of the layout rules by key."""
    return {row.key: row for row in load_table("layout", RuleRow, "rule")}


@cache
def pair_rows() -> tuple[PairRow, ...]:
    return load_table("layout", PairRow, "pair")


@cache
def first_rows() -> tuple[GroupRow, ...]:
    return load_table("layout", GroupRow, "first")


@cache
def last_rows() -> tuple[GroupRow, ...]:
    return load_table("layout", GroupRow, "last")


@cache
def home_rows() -> tuple[GroupRow, ...]:
    return load_table("layout", GroupRow, "home")


@cache
def volume_rows() -> tuple[VolumeRow, ...]:
    return load_table("volumes", VolumeRow)


@cache
def syringe_rows() -> tuple[SyringeRow, ...]:
    return load_table("syringes", SyringeRow)


@cache
def technique_rows() -> tuple[TechniqueRow, ...]:
    return load_table("techniques", TechniqueRow)


@cache
def step_rows() -> tuple[StepRow, ...]:
    return load_table("steps", StepRow)
