"""Codes with which an answer is written in HL7 FHIR R4: ``editions/codes/fhir-answer.toml``."""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.rulebook.codes import CODES
from traywise.rulebook.tables import load_rows

PATH = CODES / "fhir-answer.toml"


class FhirGroup(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A group: its CVX code without a product and its target diseases (SNOMED CT)."""

    key: str
    cvx: str
    diseases: tuple[str, ...]
    source: str


class FhirStatus(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A status in FHIR R4 ("" where it has no code) and in the ImmDS guide."""

    key: str
    r4: str
    immds: str
    source: str


class FhirDate(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A date of the forecast and its LOINC code."""

    key: str
    loinc: str
    source: str


@cache
def fhir_groups() -> dict[str, FhirGroup]:
    """Groups by key."""
    return {row.key: row for row in load_rows(PATH, FhirGroup)}


@cache
def fhir_statuses() -> dict[str, FhirStatus]:
    """Statuses by our word."""
    return {row.key: row for row in load_rows(PATH, FhirStatus, "status")}


@cache
def fhir_dates() -> dict[str, str]:
    """LOINC code by our key of a date."""
    return {row.key: row.loinc for row in load_rows(PATH, FhirDate, "date")}
