"""A child's record as FHIR R4 resources: Patient, Immunization, Observation, Condition.

What FHIR has no place for (answers, limbs to avoid, antibody products) is not written;
``read_fhir`` gives back everything that is.
"""

from __future__ import annotations

import hashlib
import re
from datetime import date
from typing import Any

from traywise.exchange.fhir.border import CVX, LOINC, MVX
from traywise.record.child import Child, DoseGiven
from traywise.rulebook.codes import cvx_codes, route_codes
from traywise.rulebook.foreign_codes import observation_fields

Resource = dict[str, Any]

UCUM = "http://unitsofmeasure.org"
ACT_SITE = "http://terminology.hl7.org/CodeSystem/v3-ActSite"
ROUTE = "http://terminology.hl7.org/CodeSystem/v3-RouteOfAdministration"
CLINICAL = "http://terminology.hl7.org/CodeSystem/condition-clinical"
_GENDERS = {"F": "female", "M": "male", "X": "other"}
_UNITS = {"weight_kg": "kg", "birth_weight_g": "g", "height_cm": "cm", "gestation_weeks": "wk"}


def resource_id(text: str) -> str:
    """A FHIR id for any text: the text itself where FHIR allows it, else a digest of it.

    >>> resource_id("a-7"), resource_id("Ä 7") == resource_id("Ä 8")
    ('a-7', False)
    """
    if re.fullmatch(r"[A-Za-z0-9.-]{1,64}", text):
        return text
    return "x" + hashlib.sha256(text.encode()).hexdigest()[:40]


def concept(system: str, code: str, display: str | None = None) -> Resource:
    """A CodeableConcept of one coding."""
    coding = {"system": system, "code": code}
    return {"coding": [coding | ({"display": display} if display else {})]}


def record_resources(child: Child) -> list[Resource]:
    """The resources of a record, the Patient first."""
    patient = {"reference": f"Patient/{resource_id(child.id)}"}
    resources = [_patient(child)]
    for number, dose in enumerate(child.doses, start=1):
        resources.append(_immunization(dose, dose_id(child, number), patient))
    # The first code of each field in the table is the one to write.
    loinc = {field: code for code, field in reversed(observation_fields().items())}
    for field, unit in _UNITS.items():
        value = getattr(child, field)
        if value is not None:
            on = child.weighed_on if field == "weight_kg" else None
            resources.append(_observation(loinc[field], value, unit, on, patient))
    for condition in child.conditions:
        resource: Resource = {
            "resourceType": "Condition",
            "subject": patient,
            "code": {"text": condition.key},
            "onsetDateTime": condition.since and condition.since.isoformat(),
            "abatementDateTime": condition.until and condition.until.isoformat(),
        }
        resource["clinicalStatus"] = concept(CLINICAL, "resolved" if condition.until else "active")
        resources.append(_without_none(resource))
    return resources


def dose_id(child: Child, number: int) -> str:
    """The id of the Immunization of a child's dose, counted from 1."""
    return resource_id(f"{resource_id(child.id)[:50]}-dose-{number}")


def _patient(child: Child) -> Resource:
    resource: Resource = {
        "resourceType": "Patient",
        "id": resource_id(child.id),
        "identifier": [{"value": child.id}],
        "birthDate": child.born.isoformat(),
    }
    if child.name:
        resource["name"] = [{"text": child.name}]
    if child.sex:
        resource["gender"] = _GENDERS[child.sex]
    return resource


def _immunization(dose: DoseGiven, identity: str, patient: Resource) -> Resource:
    resource: Resource = {
        "resourceType": "Immunization",
        "id": identity,
        "status": "completed",
        "vaccineCode": concept(CVX, dose.cvx, cvx_codes()[dose.cvx].name),
        "patient": patient,
        "occurrenceDateTime": dose.on.isoformat(),
        "lotNumber": dose.lot,
        "expirationDate": dose.expires and dose.expires.isoformat(),
        "isSubpotent": None if dose.full is None else not dose.full,
        "note": [{"text": dose.note}] if dose.note else None,
        "site": concept(ACT_SITE, dose.site) if dose.site else None,
    }
    if dose.mvx:
        resource["manufacturer"] = {"identifier": {"system": MVX, "value": dose.mvx}}
    if dose.route:
        v3 = route_codes()[dose.route].v3
        resource["route"] = concept(ROUTE, v3) if v3 else {"text": dose.route}
    if dose.volume_ml is not None:
        resource["doseQuantity"] = _quantity(dose.volume_ml, "mL")
    return _without_none(resource)


def _observation(
    loinc: str, value: float, unit: str, on: date | None, patient: Resource
) -> Resource:
    return _without_none(
        {
            "resourceType": "Observation",
            "status": "final",
            "code": concept(LOINC, loinc),
            "subject": patient,
            "effectiveDateTime": on and on.isoformat(),
            "valueQuantity": _quantity(value, unit),
        }
    )


def _quantity(value: float, unit: str) -> Resource:
    return {"value": value, "unit": unit, "system": UCUM, "code": unit}


def _without_none(resource: Resource) -> Resource:
    return {key: value for key, value in resource.items() if value is not None}
