"""Codes of other systems that records bring, and what they are here: data of ``editions/codes``."""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.rulebook.codes import CODES
from traywise.rulebook.tables import load_rows


class Icd11Vaccine(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A vaccine of ICD-11 and the CVX code that says no more."""

    key: str
    name: str
    cvx: str
    source: str


class ConditionCode(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A code that stands for exactly one condition key."""

    key: str
    system: str
    condition: str
    source: str


class ObservationCode(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A LOINC code and the field of the record it fills."""

    key: str
    field: str
    source: str


@cache
def icd11_vaccines() -> dict[str, Icd11Vaccine]:
    """Vaccines by ICD-11 code."""
    return {row.key: row for row in load_rows(CODES / "icd11.toml", Icd11Vaccine)}


@cache
def condition_codes() -> dict[str, ConditionCode]:
    """Condition codes by code; the systems' codes do not overlap."""
    path = CODES / "condition-codes.toml"
    return {row.key: row for row in load_rows(path, ConditionCode)}


@cache
def observation_fields() -> dict[str, str]:
    """Field of the record by LOINC code."""
    path = CODES / "observations.toml"
    return {row.key: row.field for row in load_rows(path, ObservationCode)}
