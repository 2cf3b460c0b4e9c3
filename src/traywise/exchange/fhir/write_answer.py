"""An answer as FHIR R4: a Bundle with the record, one ImmunizationEvaluation for each dose and
disease, and one ImmunizationRecommendation.

The answer comes as the plain object that ``traywise forecast`` writes, so that this room
needs nothing of the schedule. Codes: ``editions/codes/fhir-answer.toml``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from traywise.exchange.fhir.border import CVX, LOINC, SNOMED
from traywise.exchange.fhir.write_record import (
    Resource,
    concept,
    dose_id,
    record_resources,
    resource_id,
)
from traywise.record.child import Child
from traywise.rulebook.fhir_answer import fhir_dates, fhir_groups, fhir_statuses

R4_STATUS = "http://terminology.hl7.org/CodeSystem/immunization-recommendation-status"
IMMDS_STATUS = "http://hl7.org/fhir/us/immds/CodeSystem/ForecastStatus"
DOSE_STATUS = "http://terminology.hl7.org/CodeSystem/immunization-evaluation-dose-status"
_DOSE_CODES = {"valid": "valid", "not valid": "notvalid"}  # FHIR has no code for "extra"


def write_bundle(child: Child, answer: Mapping[str, Any] | None = None) -> Resource:
    """The record, and the answer where one is given, as a Bundle of type collection.

    answer  plain object with the keys of the contract: assess_on, edition, doses, groups;
            dates as text or as dates
    """
    resources = record_resources(child)
    if answer is not None:
        resources += _evaluations(child, answer)
        recommendation = _recommendation(child, answer)
        if recommendation["recommendation"]:
            resources.append(recommendation)
    return {
        "resourceType": "Bundle",
        "type": "collection",
        "entry": [{"resource": resource} for resource in resources],
    }


def _patient(child: Child) -> Resource:
    return {"reference": f"Patient/{resource_id(child.id)}"}


def _evaluations(child: Child, answer: Mapping[str, Any]) -> Iterator[Resource]:
    for number, dose in enumerate(answer["doses"], start=1):
        for group, verdict in dose["groups"].items():
            for disease in _diseases(group):
                yield _evaluation(child, answer, number, group, verdict, disease)


def _diseases(group: str) -> list[Resource]:
    """Target diseases of a group; its name in words where no code is known."""
    known = fhir_groups().get(group)
    if known is None:
        return [{"text": group}]
    return [concept(SNOMED, code) | {"text": group} for code in known.diseases]


def _evaluation(
    child: Child,
    answer: Mapping[str, Any],
    number: int,
    group: str,
    verdict: Mapping[str, Any],
    disease: Resource,
) -> Resource:
    status = verdict["status"]
    code = _DOSE_CODES.get(status)
    resource: Resource = {
        "resourceType": "ImmunizationEvaluation",
        "status": "completed",
        "patient": _patient(child),
        "date": str(answer["assess_on"]),
        "authority": {"display": answer["edition"]},
        "targetDisease": disease,
        "immunizationEvent": {"reference": f"Immunization/{dose_id(child, number)}"},
        "doseStatus": (concept(DOSE_STATUS, code) if code else {}) | {"text": status},
        "series": group,
    }
    if verdict.get("reason"):
        resource["doseStatusReason"] = [{"text": verdict["reason"]}]
    if verdict.get("source"):
        resource["description"] = f"{verdict.get('row') or group}: {verdict['source']}"
    return resource


def _recommendation(child: Child, answer: Mapping[str, Any]) -> Resource:
    return {
        "resourceType": "ImmunizationRecommendation",
        "patient": _patient(child),
        "date": str(answer["assess_on"]),
        "authority": {"display": answer["edition"]},
        "recommendation": [_group(key, one) for key, one in answer["groups"].items()],
    }


def _group(key: str, one: Mapping[str, Any]) -> Resource:
    known = fhir_groups().get(key)
    vaccine = (concept(CVX, known.cvx) if known else {}) | {"text": key}
    resource: Resource = {"forecastStatus": _status(one["status"]), "series": key}
    field = "contraindicatedVaccineCode" if one["status"] == "contraindicated" else "vaccineCode"
    resource[field] = [vaccine]
    if field != "vaccineCode":
        # A recommendation names a vaccine or a disease in any case (rule imr-1, from memory).
        resource["targetDisease"] = _diseases(key)[0]
    dates = [
        {"code": concept(LOINC, loinc), "value": str(one[name])}
        for name, loinc in fhir_dates().items()
        if one.get(name) is not None
    ]
    if dates:
        resource["dateCriterion"] = dates
    if one.get("next_dose") is not None:
        resource["doseNumberPositiveInt"] = one["next_dose"]
    if one.get("why"):
        resource["forecastReason"] = [{"text": one["why"]}]
    if one.get("source"):
        resource["description"] = f"{one.get('row') or key}: {one['source']}"
    return resource


def _status(status: str) -> Resource:
    """Our status with its codes of R4 and of the ImmDS guide, where they have one."""
    known = fhir_statuses().get(status)
    if known is None:
        return {"text": status}
    codings = [{"system": R4_STATUS, "code": known.r4}] if known.r4 else []
    codings.append({"system": IMMDS_STATUS, "code": known.immds})
    return {"coding": codings, "text": status}
