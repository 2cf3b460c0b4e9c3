"""FHIR R4 Immunization: what it says of a dose given (HL7 FHIR R4 4.0.1, US Core 9.0.0)."""

from __future__ import annotations

from typing import Any

from traywise.exchange.fhir.border import (
    CVX,
    ICD11,
    MVX,
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
from traywise.record.child import CvxCode, DoseGiven
from traywise.record.values import BadValue, read_cvx, read_date, read_expiry
from traywise.rulebook.codes import cvx_by_name, plain_name, route_key, site_codes
from traywise.rulebook.column_words import units_by_word
from traywise.rulebook.foreign_codes import icd11_vaccines


def read_immunization(resource: Node, findings: Findings) -> DoseGiven | None:
    """The dose given; None when it was not given, or with an error in the findings."""
    status = text(resource, "status")
    if status in ("not-done", "entered-in-error"):
        why = describe(node(resource, "statusReason")) if "statusReason" in resource else ""
        said = f'"{status}"' + (f" ({why})" if why else "")
        findings.add("exchange.W102", "status", f"Recorded as {said}; not a dose given.")
        return None
    if status != "completed":
        allowed = "completed, not-done or entered-in-error"
        findings.add("exchange.E108", "status", f'"{status}" is not a status. Use {allowed}.')
    values: dict[str, Any] = {}
    try:
        values["cvx"] = read_vaccine_code(node(resource, "vaccineCode"), findings)
    except BadValue as bad:
        findings.add(bad.code, "vaccineCode", bad.text)
    try:
        values["on"] = _read_occurrence(resource)
    except BadValue as bad:
        findings.add(bad.code, "occurrence", bad.text)
    values |= _read_details(resource, findings)
    return DoseGiven(**values) if "cvx" in values and "on" in values else None


def read_vaccine_code(concept: Node, findings: Findings) -> CvxCode:
    """The CVX code: as coded, or by an ICD-11 code, or by a vaccine's name in words."""
    cvx = code_in(concept, CVX)
    if cvx is not None:
        return read_cvx(cvx)
    for system, code in codings(concept):
        known = icd11_vaccines().get(code)
        if known and (system == ICD11 or system.startswith("http://id.who.int/icd")):
            return CvxCode(known.cvx)
    said = describe(concept)
    by_name = cvx_by_name().get(plain_name(said))
    if by_name is not None:
        note = f'No CVX code; read as {by_name} by the name "{said}". Check it.'
        findings.add("exchange.W107", "vaccineCode", note)
        return CvxCode(by_name)
    found = "; ".join(f"{code} of {system or 'no system'}" for system, code in codings(concept))
    raise BadValue(
        "exchange.E103",
        f"No vaccine is known for {found or said}. Add a CVX coding (system {CVX}); "
        "999 when the vaccine is not known.",
    )


def _read_occurrence(resource: Node) -> Any:
    moment = text(resource, "occurrenceDateTime")
    if moment is None:
        said = text(resource, "occurrenceString")
        found = f'only the words "{said}"' if said else "no date"
        raise BadValue("exchange.E104", f"There is {found}. Give occurrenceDateTime with the day.")
    return read_date(day_part(moment))


def _read_details(resource: Node, findings: Findings) -> dict[str, Any]:
    details: dict[str, Any] = {"lot": text(resource, "lotNumber")}
    details["mvx"] = _read_maker(resource)
    expiry = text(resource, "expirationDate")
    if expiry is not None:
        try:
            details["expires"] = read_expiry(expiry)
        except BadValue as bad:
            findings.add("exchange.W103", "expirationDate", f"Left out: {bad.text}")
    notes = [said for item in nodes(resource, "note") if (said := text(item, "text"))]
    for field, concept in (("site", node(resource, "site")), ("route", node(resource, "route"))):
        if not concept:
            continue
        known = _read_site(concept) if field == "site" else _read_route(concept)
        if known is None:
            said = describe(concept)
            findings.add("exchange.W103", field, f'"{said}" is not a known {field}; see the note.')
            notes.append(f"{field}: {said}")
        details[field] = known
    details["volume_ml"] = _read_volume(resource, findings)
    subpotent = flag(resource, "isSubpotent")
    details["full"] = None if subpotent is None else not subpotent
    details["note"] = "; ".join(notes) or None
    return details


def _read_maker(resource: Node) -> str | None:
    maker = node(resource, "manufacturer")
    for identifier in nodes(maker, "identifier"):
        if text(identifier, "system") in (MVX, None):
            return text(identifier, "value")
    return text(maker, "display")


def _read_site(concept: Node) -> str | None:
    by_snomed = {row.snomed: row.key for row in site_codes().values() if row.snomed}
    for _, code in codings(concept):
        if code.upper() in site_codes():
            return code.upper()
        if code in by_snomed:
            return by_snomed[code]
    return None


def _read_route(concept: Node) -> str | None:
    keys = [key for _, code in codings(concept) if (key := route_key(code))]
    return keys[0] if keys else route_key(describe(concept))


def _read_volume(resource: Node, findings: Findings) -> float | None:
    quantity = node(resource, "doseQuantity")
    value = number(quantity, "value")
    if value is None:
        return None
    unit = text(quantity, "code") or text(quantity, "unit") or ""
    known = units_by_word().get(unit.casefold())
    if known is None or known.measures != "volume" or not 0 < value < 1e6:
        findings.add("exchange.W103", "doseQuantity", f'"{value:g} {unit}" is not a volume in mL.')
        return None
    return value * known.factor
