"""FHIR R4 Observation, Condition and AllergyIntolerance: measures and conditions of a child."""

from __future__ import annotations

from datetime import date
from typing import Any

from traywise.exchange.fhir.border import (
    LOINC,
    SYSTEMS,
    Node,
    code_in,
    codings,
    day_part,
    describe,
    flag,
    node,
    nodes,
    number,
    text,
)
from traywise.exchange.fhir.findings import Findings
from traywise.record.child import Condition
from traywise.record.values import BadValue, read_date
from traywise.rulebook.column_words import units_by_word
from traywise.rulebook.conditions import condition_key, conditions
from traywise.rulebook.foreign_codes import condition_codes, observation_fields

VOID = ("entered-in-error", "cancelled", "refuted")
INTO = {"weight_kg": "kg", "birth_weight_g": "g", "height_cm": "cm", "gestation_weeks": "weeks"}


def read_observation(
    resource: Node, findings: Findings
) -> tuple[str, Any, date | None] | Condition | None:
    """A measure (field, value, day) or a condition; None when neither, which is reported."""
    if text(resource, "status") in VOID:
        findings.add("exchange.W102", "status", "Withdrawn by its author; left out.")
        return None
    day = _read_day(text(resource, "effectiveDateTime"), findings, "effectiveDateTime")
    loinc = code_in(node(resource, "code"), LOINC)
    field = observation_fields().get(loinc or "")
    if field is not None:
        value = _read_quantity(resource, field, findings)
        return None if value is None else (field, value, day)
    key = _known_condition(node(resource, "valueCodeableConcept"))
    if key is None and flag(resource, "valueBoolean") is True:
        key = _known_condition(node(resource, "code"))
    if key is not None:
        return Condition(key=key, since=day)
    answer = node(resource, "valueCodeableConcept")
    said = describe(node(resource, "code")) + (f": {describe(answer)}" if answer else "")
    findings.add("exchange.W104", "code", f'"{said}" is not used by any rule. Weigh it yourself.')
    return None


def _read_quantity(resource: Node, field: str, findings: Findings) -> float | int | None:
    quantity = node(resource, "valueQuantity")
    value = number(quantity, "value")
    unit = text(quantity, "code") or text(quantity, "unit") or ""
    known, into = units_by_word().get(unit.casefold()), units_by_word()[INTO[field]]
    if value is None or not 0 < value < 1e9:
        findings.add("exchange.W104", "valueQuantity", "There is no value above 0; left out.")
        return None
    if known is None or known.measures != into.measures:
        said = f'"{unit}" is not a unit of {into.measures}; the value {value:g} was left out.'
        findings.add("exchange.W104", "valueQuantity", said)
        return None
    found = round(value * known.factor / into.factor, 6)
    if field == "gestation_weeks":
        return int(found)  # completed weeks
    return round(found) if field == "birth_weight_g" else found


def _known_condition(concept: Node) -> str | None:
    """The condition key of a concept, by code or by words."""
    for system, code in codings(concept):
        row = condition_codes().get(code)
        if row is not None and row.system == SYSTEMS.get(system):
            return row.condition
    return condition_key(describe(concept)) if concept else None


def read_condition_resource(resource: Node, findings: Findings) -> Condition | None:
    """A Condition: its key, or its words where the rulebook knows no key."""
    verification = {code for _, code in codings(node(resource, "verificationStatus"))}
    if verification & set(VOID):
        findings.add("exchange.W102", "verificationStatus", "Refuted or withdrawn; left out.")
        return None
    concept = node(resource, "code")
    key = _known_condition(concept) or describe(concept)
    since = _read_day(text(resource, "onsetDateTime"), findings, "onsetDateTime")
    until = _read_day(text(resource, "abatementDateTime"), findings, "abatementDateTime")
    return Condition(key=key, since=since, until=until)


def read_allergy(resource: Node, findings: Findings) -> Condition | None:
    """An AllergyIntolerance: a condition only when anaphylaxis is stated, else a question."""
    verification = {code for _, code in codings(node(resource, "verificationStatus"))}
    if verification & set(VOID):
        findings.add("exchange.W102", "verificationStatus", "Refuted or withdrawn; left out.")
        return None
    substance = describe(node(resource, "code"))
    reactions = [
        describe(manifestation).casefold()
        for reaction in nodes(resource, "reaction")
        for manifestation in nodes(reaction, "manifestation")
    ]
    word = substance.casefold().replace("allergy to ", "").strip()
    if any("anaphyla" in reaction for reaction in reactions):
        for row in conditions().values():
            if row.component and row.component.casefold() == word:
                return Condition(key=row.key)
        return Condition(key=f"anaphylaxis to {word}")
    said = ", ".join(reactions) or "reaction not stated"
    findings.add(
        "exchange.W105", "code", f"Allergy to {substance} ({said}). Ask about it at screening."
    )
    return None


def _read_day(moment: str | None, findings: Findings, element: str) -> date | None:
    """A day; a partial one is left open and said so, which widens the condition's time."""
    if moment is None:
        return None
    try:
        return read_date(day_part(moment))
    except BadValue as bad:
        findings.add("exchange.W103", element, f"Left open: {bad.text}")
        return None
