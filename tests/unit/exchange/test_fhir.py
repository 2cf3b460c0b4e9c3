"""FHIR R4 in: published examples as outside vectors, and each element both ways."""

from __future__ import annotations

import json
from datetime import date

import pytest
from tests.shared_files import shared

from traywise.exchange.fhir import read_fhir
from traywise.record import Condition

TODAY = date(2026, 11, 24)
CVX = "http://hl7.org/fhir/sid/cvx"
PATIENT = {"resourceType": "Patient", "id": "a", "birthDate": "2026-01-05", "gender": "female"}


def immunization(**members):
    return {
        "resourceType": "Immunization",
        "id": "i",
        "status": "completed",
        "vaccineCode": {"coding": [{"system": CVX, "code": "20"}]},
        "patient": {"reference": "Patient/a"},
        "occurrenceDateTime": "2026-03-05T08:00:00-05:00",
        **members,
    }


def observation(code, **members):
    return {
        "resourceType": "Observation",
        "status": "final",
        "subject": {"reference": "Patient/a"},
        "code": {"coding": [{"system": "http://loinc.org", "code": code}]},
        **members,
    }


def read(*resources):
    bundle = {"resourceType": "Bundle", "entry": [{"resource": one} for one in resources]}
    return read_fhir(json.dumps(bundle), "b.json", today=TODAY)


def codes(result):
    return [fault.code for fault in result.all_faults]


def the_cases():
    """Cases of WHO's SMART guideline for immunizations; the outside file names the source."""
    lines = shared("cases/who-smart-dev.jsonl").read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines]


def test_each_bundle_of_the_who_guideline_says_what_its_case_says():
    sexes = {"female": "F", "male": "M", "other": "X"}
    for case in the_cases():
        path = shared(f"cases/who-fhir/tests-{case['patient']}-bundle.json")
        result = read_fhir(path.read_bytes(), path.name, today=TODAY)
        (child,) = result.children
        assert (child.born.isoformat(), child.sex) == (
            case["child"]["born"],
            sexes[case["child"]["sex"]],
        )
        said = sorted(
            (entry["date"], entry["vaccine"]["cvx"] or "151") for entry in case["history"]
        )
        assert sorted((dose.on.isoformat(), dose.cvx) for dose in child.doses) == said
        assert len(child.conditions) == len(case["conditions"])
        assert not [fault for fault in result.all_faults if fault.is_error]


@pytest.mark.parametrize(
    ("patient", "condition"),
    [
        ("Measles56.1", Condition(key="pregnant", since=date(2025, 6, 12))),
        ("Rotavirus25.1", Condition(key="intussusception", since=date(2025, 11, 10))),
        ("HPV15.3", Condition(key="hiv", since=date(2025, 5, 13))),
    ],
)
def test_who_data_elements_become_conditions(patient, condition):
    path = shared(f"cases/who-fhir/tests-{patient}-bundle.json")
    assert read_fhir(path.read_bytes(), "b", today=TODAY).children[0].conditions == (condition,)


@pytest.mark.parametrize(
    ("name", "born", "dose"),
    [  # HL7, ImmDS guide 2.0.0 and 1.0, operation input
        ("immds-2.0-parameters-in.json", "2020-04-28", ("2020-04-28", "08")),
        ("immds-1.0-parameters-in-example.xml", "2019-04-28", ("2019-04-29", "08")),
    ],
)
def test_the_operation_input_of_the_forecast_guide_is_read(name, born, dose):
    result = read_fhir(shared(f"cases/exchange/{name}").read_bytes(), name, today=TODAY)
    (child,) = result.children
    assert (child.born.isoformat(), child.sex) == (born, "M")
    assert [(one.on.isoformat(), one.cvx) for one in child.doses] == [dose]
    assert child.assess_on is not None
    assert result.all_faults == ()


@pytest.mark.parametrize("name", ["us-core-patient-child.json", "us-core-patient-infant.json"])
def test_a_patient_without_gender_has_the_sex_of_its_extension(name):
    # HL7, US Core 9.0.0 examples
    (child,) = read_fhir(shared(f"cases/exchange/{name}").read_bytes(), name, today=TODAY).children
    assert child.sex == "M"


def test_every_published_file_is_read_without_raising():
    for path in sorted(shared("cases/exchange").iterdir()):
        if path.suffix in (".json", ".xml"):
            result = read_fhir(path.read_bytes(), path.name, today=TODAY)
            assert result.children or codes(result) == ["exchange.E101"], path.name


def test_the_published_us_core_dose_is_read_whole():
    dose = json.loads(shared("cases/exchange/us-core-immunization-imm-1.json").read_text())
    dose["patient"] = {"reference": "Patient/a"}
    (child,) = read(PATIENT | {"birthDate": "2010-01-05"}, dose).children
    (given,) = child.doses
    assert (given.cvx, given.on, given.lot) == ("197", date(2020, 11, 19), "AAJN11K")


def test_all_details_of_a_dose_are_read():
    result = read(
        immunization(
            lotNumber="L1",
            expirationDate="2027-02",
            site={"coding": [{"code": "LT"}]},
            route={"coding": [{"code": "IM"}]},
            doseQuantity={"value": 0.5, "code": "mL"},
            manufacturer={"identifier": {"value": "XYZ"}},
            isSubpotent=True,
            note=[{"text": "n"}],
        ),
        PATIENT,
    )
    (dose,) = result.children[0].doses
    assert (dose.lot, dose.expires, dose.site, dose.route, dose.volume_ml) == (
        "L1", date(2027, 2, 28), "LT", "IM", 0.5,
    )  # fmt: skip
    assert (dose.mvx, dose.full, dose.note) == ("XYZ", False, "n")


@pytest.mark.parametrize(
    ("members", "code"),
    [
        ({"occurrenceDateTime": "2026-03"}, "record.E022"),
        ({"occurrenceDateTime": None}, "exchange.E104"),
        ({"status": None}, "exchange.E108"),
        ({"vaccineCode": {"coding": [{"system": CVX, "code": "777"}]}}, "record.E027"),
        ({"vaccineCode": {}}, "exchange.E103"),
        ({"occurrenceDateTime": "2025-03-05"}, "record.E041"),
    ],
)
def test_a_dose_that_cannot_be_read_sets_the_child_aside(members, code):
    result = read(PATIENT, immunization(**members))
    assert codes(result) == [code]
    assert [(entry.id, entry.child) for entry in result.entries] == [("a", None)]


@pytest.mark.parametrize("status", ["not-done", "entered-in-error"])
def test_what_was_not_given_is_left_out_and_said(status):
    result = read(PATIENT, immunization(status=status))
    assert (result.children[0].doses, codes(result)) == ((), ["exchange.W102"])


def test_an_unknown_site_is_kept_as_a_note():
    result = read(PATIENT, immunization(site={"text": "left ear"}))
    (dose,) = result.children[0].doses
    assert (dose.site, dose.note) == (None, "site: left ear")
    assert codes(result) == ["exchange.W103"]


@pytest.mark.parametrize(
    ("code", "value", "unit", "field", "wanted"),
    [
        ("29463-7", 8.1, "kg", "weight_kg", 8.1), ("29463-7", 8100, "g", "weight_kg", 8.1),
        ("29463-7", 18, "[lb_av]", "weight_kg", 8.164663),
        ("8339-4", 3.2, "kg", "birth_weight_g", 3200),
        ("11884-4", 39, "wk", "gestation_weeks", 39), ("11884-4", 276, "d", "gestation_weeks", 39),
        ("8302-2", 0.7, "m", "height_cm", 70.0),
    ],
)  # fmt: skip
def test_measures_are_read_in_their_unit(code, value, unit, field, wanted):
    quantity = {"value": value, "code": unit, "system": "http://unitsofmeasure.org"}
    result = read(PATIENT, observation(code, valueQuantity=quantity))
    assert getattr(result.children[0], field) == wanted
    assert result.all_faults == ()


def test_the_latest_weight_counts_wherever_it_stands():
    early = observation(
        "29463-7", valueQuantity={"value": 5, "code": "kg"}, effectiveDateTime="2026-04-01"
    )
    late = observation(
        "29463-7", valueQuantity={"value": 8, "code": "kg"}, effectiveDateTime="2026-10-01"
    )
    for order in ((early, late), (late, early)):
        child = read(PATIENT, *order).children[0]
        assert (child.weight_kg, child.weighed_on) == (8, date(2026, 10, 1))


def test_two_patients_keep_their_own_doses():
    other = PATIENT | {"id": "b"}
    result = read(
        PATIENT,
        other,
        immunization(patient={"reference": "https://example.org/fhir/Patient/b/_history/2"}),
        immunization(patient={"reference": "Patient/c"}),
    )
    assert [(child.id, len(child.doses)) for child in result.children] == [("a", 0), ("b", 1)]
    assert codes(result) == ["exchange.E102"]


def test_a_reference_by_full_url_finds_its_patient():
    bundle = {
        "resourceType": "Bundle",
        "entry": [
            {"fullUrl": "urn:uuid:1", "resource": PATIENT},
            {"resource": immunization(patient={"reference": "urn:uuid:1"})},
        ],
    }
    (child,) = read_fhir(json.dumps(bundle), "b", today=TODAY).children
    assert len(child.doses) == 1


def test_one_resource_a_line_is_read_as_one_record():
    text = json.dumps(PATIENT) + "\n" + json.dumps(immunization()) + "\n"
    assert len(read_fhir(text, "b.ndjson", today=TODAY).children[0].doses) == 1


def test_an_allergy_is_a_condition_only_when_anaphylaxis_is_stated():
    allergy = {
        "resourceType": "AllergyIntolerance",
        "patient": {"reference": "Patient/a"},
        "code": {"text": "gelatin"},
    }
    anaphylaxis = allergy | {"reaction": [{"manifestation": [{"text": "Anaphylaxis"}]}]}
    assert read(PATIENT, anaphylaxis).children[0].conditions == (
        Condition(key="anaphylaxis-gelatin"),
    )
    result = read(PATIENT, allergy)
    assert (result.children[0].conditions, codes(result)) == ((), ["exchange.W105"])


def test_an_entity_in_xml_is_refused_before_it_is_expanded():
    bomb = '<!DOCTYPE a [<!ENTITY x "' + "y" * 100 + '">]><Patient xmlns="http://hl7.org/fhir"/>'
    assert codes(read_fhir(bomb, "x.xml", today=TODAY)) == ["exchange.E105"]


def test_nobody_is_answered_when_a_line_with_a_resource_was_not_read():
    text = json.dumps(PATIENT) + '\n{"resourceType": "Immunization", \n'
    result = read_fhir(text, "b.ndjson", today=TODAY)
    assert (codes(result), result.children) == (["record.E002"], ())
