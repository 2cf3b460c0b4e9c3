"""The published measurements as typed rows, and the tissue of a child as a study gives it.

Rows stand in ``editions/tables/reach-*.toml``. Lengths are millimetres, ages months,
weights kilograms. An absent figure was not published and stays absent.
"""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.rulebook.tables import load_table


class StudyRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One group of children that was measured: s skin to muscle, m muscle, t skin to bone."""

    key: str
    study: str
    role: str  # anchor, weight, beside, short
    site: str  # thigh, deltoid
    children: int | None = None
    age_from_months: float
    age_to_months: float
    kg_from: float | None = None
    kg_before: float | None = None
    s_mm: float | None = None
    fat_mm: float | None = None  # fat without skin; the skin is added
    s_sd_mm: float | None = None
    m_mm: float | None = None
    m_sd_mm: float | None = None
    t_mm: float | None = None
    t_sd_mm: float | None = None
    people: str
    derived: str = ""
    read: str
    source: str

    @property
    def skin_to_muscle_mm(self) -> float | None:
        """Published skin to muscle, or fat plus skin where only fat was published."""
        return self.s_mm if self.fat_mm is None else self.fat_mm + setting("skin-mm")

    def fits_weight(self, weight_kg: float) -> bool:
        """Whether a weight lies within the group's limits (absent limits hold nothing out)."""
        return (self.kg_from is None or weight_kg >= self.kg_from) and (
            self.kg_before is None or weight_kg < self.kg_before
        )


class SettingRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One assumption of the estimate."""

    key: str
    value: float
    text: str
    source: str


class TrialRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A finding that stands beside the estimate, for lengths and ages it speaks about."""

    key: str
    study: str
    site: str
    age_from_months: float
    age_to_months: float
    mm_from: float
    mm_to: float | None = None
    angle_to_deg: float = 90.0
    points: str  # longer, shorter, technique
    finding: str
    source: str


class CountRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A published count of children in whom a needle would end short or at bone depth."""

    key: str
    study: str
    site: str
    age_from_months: float | None = None
    age_to_months: float | None = None
    kg_from: float | None = None
    kg_before: float | None = None
    length_mm: float
    angle_deg: float = 90.0
    what: str  # short, bone depth, in muscle
    count: int
    of: int
    note: str = ""
    source: str


class InjectionRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Real injections checked by ultrasound: (deposits in muscle, injections) by manner."""

    key: str
    people: str
    length_mm: float
    all: tuple[int, int]
    abdomen: tuple[int, int]
    thigh: tuple[int, int]
    at_45_deg: tuple[int, int]
    at_90_deg: tuple[int, int]
    unpinched: tuple[int, int]
    pinched: tuple[int, int]
    source: str


@cache
def studies() -> dict[str, StudyRow]:
    """All measured groups by key, in the order of the table."""
    return {row.key: row for row in load_table("reach-studies", StudyRow)}


@cache
def _settings() -> dict[str, SettingRow]:
    return {row.key: row for row in load_table("reach-model", SettingRow)}


def setting(key: str) -> float:
    """The value of one assumption; KeyError for a key that does not stand in the table."""
    return _settings()[key].value


@cache
def trials() -> tuple[TrialRow, ...]:
    """Findings beside the estimate."""
    return load_table("reach-trials", TrialRow)


@cache
def counts() -> tuple[CountRow, ...]:
    """Published counts."""
    return load_table("reach-counts", CountRow)


@cache
def real_injections() -> tuple[InjectionRow, ...]:
    """The injections whose end was seen by ultrasound."""
    return load_table("reach-real-injections", InjectionRow)
