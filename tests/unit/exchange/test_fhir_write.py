"""FHIR R4 out: the published structure holds, and what is written is read again."""

from __future__ import annotations

import json
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traywise.exchange.fhir import read_fhir, write_bundle
from traywise.record import Child, Condition, DoseGiven
from traywise.rulebook.codes import cvx_codes, route_codes, site_codes
from traywise.rulebook.fhir_answer import fhir_groups, fhir_statuses

BORN, TODAY = date(2020, 1, 5), date(2026, 11, 24)
CHILD = Child(id="a", born=BORN, doses=(DoseGiven(on=date(2020, 3, 5), cvx="110"),))
# Invented; the shape is the contract's.
ANSWER = {
    "id": "a", "assess_on": "2026-11-24", "edition": "us-2025",
    "doses": [{"on": "2020-03-05", "cvx": "110", "groups": {
        "DTaP": {"status": "valid", "reason": None, "row": "DTaP-1", "source": "common practice"},
        "HepB": {"status": "not valid", "reason": "too young", "row": "HepB-1", "source": "s"},
        "IPV": {"status": "extra", "reason": "complete", "row": "", "source": ""}}}],
    "groups": {
        "DTaP": {"status": "overdue", "next_dose": 2, "earliest": "2020-04-02",
                 "due": "2020-05-05", "overdue": "2020-06-02", "latest": None, "row": "DTaP-2",
                 "why": "4 weeks after dose 1", "source": "common practice"},
        "MMR": {"status": "contraindicated", "next_dose": None, "earliest": None, "due": None,
                "overdue": None, "latest": None, "row": "", "why": "severe", "source": ""},
        "Other": {"status": "complete"}},
}  # fmt: skip


def resources(bundle, kind):
    return [
        entry["resource"] for entry in bundle["entry"] if entry["resource"]["resourceType"] == kind
    ]


def validate(bundle):
    """The structural check of an outside library; it does not check terminology."""
    name = "fhir.resources.R4B.bundle"
    module = pytest.importorskip(name, reason="fhir.resources, the outside check, is not here")
    module.Bundle.model_validate_json(json.dumps(bundle))


def test_the_written_bundle_has_the_published_structure():
    validate(write_bundle(CHILD, ANSWER))
    validate(write_bundle(CHILD))


def test_a_combination_is_evaluated_once_for_each_disease():
    found = resources(write_bundle(CHILD, ANSWER), "ImmunizationEvaluation")
    said = [
        (one["series"], one["targetDisease"]["coding"][0]["code"], one["doseStatus"]["text"])
        for one in found
    ]
    assert said == [  # SNOMED CT, ImmDS 2.0.0 target diseases
        ("DTaP", "397430003", "valid"), ("DTaP", "76902006", "valid"),
        ("DTaP", "27836007", "valid"), ("HepB", "66071002", "not valid"),
        ("IPV", "721764008", "extra"),
    ]  # fmt: skip
    events = {one["immunizationEvent"]["reference"] for one in found}
    assert events == {
        f"Immunization/{one['id']}"
        for one in resources(write_bundle(CHILD, ANSWER), "Immunization")
    }


def test_the_recommendation_carries_dates_by_their_loinc_codes():
    (found,) = resources(write_bundle(CHILD, ANSWER), "ImmunizationRecommendation")
    dtap, mmr, other = found["recommendation"]
    dates = {one["code"]["coding"][0]["code"]: one["value"] for one in dtap["dateCriterion"]}
    assert dates == {  # FHIR R4, recommendation date criterion
        "30981-5": "2020-04-02", "30980-7": "2020-05-05", "59778-1": "2020-06-02",
    }  # fmt: skip
    assert (dtap["doseNumberPositiveInt"], dtap["vaccineCode"][0]["coding"][0]["code"]) == (
        2,
        "107",
    )
    assert [one["code"] for one in dtap["forecastStatus"]["coding"]] == ["overdue", "notComplete"]
    assert mmr["contraindicatedVaccineCode"][0]["coding"][0]["code"] == "03"
    assert "vaccineCode" not in mmr
    assert other["vaccineCode"] == [{"text": "Other"}]


def test_each_group_has_a_code_without_a_product_or_the_only_one_there_is():
    alone = {"MMR", "VAR", "PPSV"}  # one code for the whole group
    for key, group in fhir_groups().items():
        assert cvx_codes()[group.cvx].unspecified or key in alone, key


def test_each_status_of_an_answer_has_its_code():
    schedule = pytest.importorskip("traywise.schedule.answer")
    assert set(fhir_statuses()) == set(schedule.STATUSES)


days = st.dates(BORN, TODAY)
words = st.text("abcXYZ 0129-äß", min_size=1, max_size=10).map(lambda text: text.strip() or "x")
children = st.builds(
    Child,
    id=words,
    born=st.just(BORN),
    name=st.none() | words,
    sex=st.none() | st.sampled_from("FMX"),
    gestation_weeks=st.none() | st.integers(22, 44),
    birth_weight_g=st.none() | st.integers(300, 7000),
    height_cm=st.none() | st.integers(300, 1800).map(lambda tenths: tenths / 10),
    weight_kg=st.just(18.5),
    weighed_on=st.none() | days,
    doses=st.lists(
        st.builds(
            DoseGiven,
            on=days,
            cvx=st.sampled_from(sorted(cvx_codes())),
            mvx=st.none() | words,
            lot=st.none() | words,
            expires=st.none() | days,
            route=st.none() | st.sampled_from(sorted(route_codes())),
            site=st.none() | st.sampled_from(sorted(site_codes())),
            volume_ml=st.none() | st.sampled_from([0.25, 0.5, 1.0]),
            full=st.none() | st.booleans(),
            note=st.none() | words,
        ),
        max_size=3,
    ).map(tuple),
    conditions=st.lists(
        st.builds(
            Condition,
            key=st.sampled_from(["pregnant", "asthma", "left-handed"]),
            since=st.none() | st.dates(BORN, date(2022, 1, 1)),
            until=st.none() | st.dates(date(2023, 1, 1), TODAY),
        ),
        max_size=2,
    ).map(tuple),
)


@settings(max_examples=60, deadline=None)
@given(children)
def test_what_is_written_is_read_again(child):
    bundle = write_bundle(child)
    (found,) = read_fhir(json.dumps(bundle), "b", today=TODAY).children
    fields = ("born", "name", "sex", "gestation_weeks", "birth_weight_g", "weight_kg",
              "weighed_on", "height_cm", "doses", "conditions")  # fmt: skip
    assert [getattr(found, one) for one in fields] == [getattr(child, one) for one in fields]


@settings(max_examples=15, deadline=None)
@given(children)
def test_any_child_has_the_published_structure(child):
    validate(write_bundle(child, ANSWER | {"doses": []}))
