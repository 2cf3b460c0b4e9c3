"""Writing and reading again gives the same child; order of keys and lines does not matter;
no bytes whatever make a reader raise."""

from __future__ import annotations

import json
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traywise.exchange import read_any
from traywise.exchange.fhir import read_fhir
from traywise.record import Child, Condition, DoseGiven, ProductReceived, read_children, read_table
from traywise.record.write_json import write_children
from traywise.rulebook.antibody_products import antibody_products
from traywise.rulebook.codes import cvx_codes, route_codes, site_codes

TODAY = date(2026, 11, 24)
BORN = date(2020, 1, 5)

days = st.dates(BORN, TODAY)
words = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=12).map(
    lambda text: text.strip() or "x"
)
doses = st.builds(
    DoseGiven,
    on=days,
    cvx=st.sampled_from(sorted(cvx_codes())),
    mvx=st.none() | words,
    lot=st.none() | words,
    expires=st.none() | days,
    route=st.none() | st.sampled_from(sorted(route_codes())),
    site=st.none() | st.sampled_from(sorted(site_codes())),
    volume_ml=st.none() | st.floats(0.05, 5),
    full=st.none() | st.booleans(),
    campaign=st.none() | st.booleans(),
    note=st.none() | words,
)
children = st.builds(
    Child,
    id=words,
    born=st.just(BORN),
    name=st.none() | words,
    sex=st.none() | st.sampled_from("FMX"),
    gestation_weeks=st.none() | st.integers(22, 44),
    birth_weight_g=st.none() | st.integers(300, 7000),
    weight_kg=st.none() | st.floats(1, 60),
    weighed_on=st.none() | days,
    height_cm=st.none() | st.floats(30, 180),
    doses=st.lists(doses, max_size=4).map(tuple),
    conditions=st.lists(
        st.builds(Condition, key=st.sampled_from(["pregnant", "asthma"]), since=st.none() | days),
        max_size=2,
    ).map(tuple),
    answers=st.dictionaries(words, words | st.booleans() | st.integers(0, 99), max_size=2),
    products=st.lists(
        st.builds(ProductReceived, on=days, kind=st.sampled_from(sorted(antibody_products()))),
        max_size=2,
    ).map(tuple),
    avoid=st.lists(st.sampled_from(["LT", "RA"]), max_size=2).map(tuple),
    appointment=st.none() | st.just("09:20"),
    assess_on=st.just(TODAY),
)


class TestWhatIsWrittenIsReadAgain:
    @settings(max_examples=60, deadline=None)
    @given(children)
    def test_a_child_is_the_same(self, child):
        result = read_children(write_children([child]), "f.json", today=TODAY)
        assert result.children == (child,)
        assert not [fault for fault in result.all_faults if fault.is_error]

    @settings(max_examples=25, deadline=None)
    @given(st.lists(children, max_size=4, unique_by=lambda child: child.id), st.randoms())
    def test_the_order_of_lines_and_keys_changes_no_child(self, some, random):
        lines = [json.loads(line) for line in write_children(some).splitlines()]
        random.shuffle(lines)
        mixed = []
        for line in lines:
            members = list(line.items())
            random.shuffle(members)
            mixed.append(json.dumps(dict(members)))
        result = read_children("\n".join(mixed), "f.json", today=TODAY)
        assert {child.id: child for child in result.children} == {child.id: child for child in some}


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                ["id", "born", "doses", "on", "cvx", "conditions", "key", "answers", "products",
                 "resourceType", "entry", "resource", "patient", "reference", "coding", "code",
                 "vaccineCode", "birthDate", "name", "status", "site", "doseQuantity", "value"]
            ),
            inner,
            max_size=5,
        )
    ),
    max_leaves=12,
)  # fmt: skip
RESOURCES = ["Patient", "Immunization", "Observation", "Condition", "AllergyIntolerance"]


class TestNothingMakesAReaderRaise:
    @pytest.mark.parametrize("reader", [read_children, read_table, read_fhir, read_any])
    def test_bytes(self, reader):
        @settings(max_examples=120, deadline=None)
        @given(st.binary(max_size=200))
        def check(data):
            reader(data, "f", today=TODAY)

        check()

    @settings(max_examples=100, deadline=None)
    @given(values)
    def test_values_in_wrong_places(self, value):
        text = json.dumps(value)
        read_children(text, "f", today=TODAY)
        read_fhir(text, "f", today=TODAY)

    @settings(max_examples=100, deadline=None)
    @given(st.sampled_from(RESOURCES), st.dictionaries(st.sampled_from(
        ["status", "vaccineCode", "occurrenceDateTime", "code", "valueQuantity", "site", "route",
         "note", "manufacturer", "name", "gender", "reaction", "identifier", "extension"]
    ), values, max_size=6))  # fmt: skip
    def test_fhir_resources_with_wrong_insides(self, kind, members):
        patient = {"resourceType": "Patient", "id": "a", "birthDate": "2026-01-05"}
        resource = {**members, "resourceType": kind}
        text = json.dumps({"resourceType": "Bundle", "entry": [
            {"resource": patient}, {"resource": resource}]})  # fmt: skip
        read_fhir(text, "f", today=TODAY)

    @settings(max_examples=100, deadline=None)
    @given(st.lists(st.lists(st.text('0123456789/-. ,;"abcdDTaPHep\n', max_size=12), max_size=5)))
    def test_tables_of_anything(self, rows):
        text = "id,born,weight,DTaP 1,GA\n" + "\n".join(",".join(row) for row in rows)
        read_table(text, "f", today=TODAY)


def test_a_record_moved_by_28_years_is_read_alike():
    # 10 227 days repeat the calendar within 1901 to 2099.
    child = Child(id="a", born=BORN, doses=(DoseGiven(on=date(2020, 3, 5), cvx="20"),))
    moved = timedelta(days=-10_227)
    text = write_children([child]).replace("2020", str((BORN + moved).year))
    (found,) = read_children(text, "f", day=TODAY + moved, today=TODAY).children
    assert (found.born - BORN, found.doses[0].on - child.doses[0].on) == (moved, moved)
