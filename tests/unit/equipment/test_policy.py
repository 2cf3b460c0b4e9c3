"""A clinic's own needle table, and the shipped tables themselves. Clinic and rows invented."""

from __future__ import annotations

import string
from datetime import timedelta
from itertools import pairwise

import pytest
from tests.unit.equipment.visits import child_of, dose, equip_one

from traywise.equipment import equip
from traywise.equipment.check import check_layout
from traywise.equipment.policy import check_needles
from traywise.equipment.tables import (
    choice_rows,
    limb_rows,
    needle_rows,
    policies,
    rules,
    sites,
    step_rows,
    technique_rows,
)
from traywise.errors import InputError
from traywise.rulebook.tables import EDITIONS

OWN = """
[[policy]]
key = "clinic-x"
name = "Clinic X (invented)"
note = ""
falls_back_to = "acip-2024"
source = "common practice"

[[row]]
key = "x-im-thigh"
policy = "clinic-x"
route = "IM"
site = "thigh"
age_from = "birth"
age_before = "19 years"
lengths_mm = [22]
default_mm = 22
gauges = [23]
why = "one length for all"
default_source = "common practice"
source = "common practice"
"""


@pytest.fixture
def own_table(tmp_path):
    def write(text=OWN):
        path = tmp_path / "own.toml"
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


def test_a_clinics_own_table_is_followed_and_named(own_table):
    policy = own_table()
    child, on = child_of("2 months")
    layout = equip(child, on, [dose("PCV20"), dose("MMR")], policy=policy)
    taken = {place.route: place.needle.length_mm for place in layout.places}
    assert taken == {"IM": 22, "SC": 16}  # what it lacks comes from the table it falls back to
    assert "Clinic X (invented)" in layout.policy_text
    assert check_layout(child, on, layout) == []


FAULTY = [
    (OWN.replace("default_mm = 22", "default_mm = 25"), "equipment.E004"),
    (OWN.replace("gauges = [23]", "gauges = []"), "equipment.E004"),
    (OWN.replace("default_mm = 22", 'device = "points"'), "equipment.E004"),
    (OWN.replace("[[policy]]", "[[police]]"), "equipment.E003"),
    (OWN.replace('"clinic-x"', '"acip-2024"'), "equipment.E003"),
    (OWN.replace('falls_back_to = "acip-2024"', ""), "equipment.E003"),
    (OWN.replace('why = "one', 'wy = "one'), "rulebook.E012"),
    (OWN.replace('"19 years"', '"19 yrs"'), "rulebook.E012"),
]


@pytest.mark.parametrize(("text", "code"), FAULTY)
def test_an_unfit_table_is_refused_with_its_fault(own_table, text, code):
    child, on = child_of("2 months")
    with pytest.raises(InputError) as refused:
        equip(child, on, [dose("PCV20")], policy=own_table(text))
    assert code in {fault.code for fault in refused.value.faults}


def test_an_unknown_policy_and_a_day_before_birth_are_refused():
    child, on = child_of("2 months")
    with pytest.raises(InputError) as refused:
        equip(child, on, [], policy="nowhere-1999")
    assert [fault.code for fault in refused.value.faults] == ["equipment.E001"]
    child, before = child_of("birth", less_days=1)
    with pytest.raises(InputError) as refused:
        equip(child, before, [])
    assert [fault.code for fault in refused.value.faults] == ["equipment.E002"]


def test_the_shipped_tables_agree_with_themselves():
    assert check_needles(list(needle_rows()), EDITIONS / "tables" / "needles.toml") == []
    assert {row.policy for row in (*needle_rows(), *choice_rows())} <= set(policies())
    assert {site for row in choice_rows() for site in row.sites} == set(sites())
    assert {row.at for row in limb_rows()} == {*sites(), "leg", "arm"}
    listed = {(row.route, row.site) for row in needle_rows()}
    assert {(row.route, site) for row in choice_rows() for site in row.sites} == listed
    assert {"spacing-mm", "bleeding-gauge", "live-gap-days"} <= set(rules())
    assert {row.route for row in technique_rows()} == {"IM", "SC", "ID", "PC", "PO", "NAS"}


def test_every_age_has_one_row_of_room_for_each_site_and_limb():
    for at, policy in {(row.at, row.policy) for row in limb_rows()}:
        rows = [row for row in limb_rows() if (row.at, row.policy) == (at, policy)]
        spans = sorted((row.age_from, row.age_before) for row in rows)
        assert str(spans[0][0]) == "birth"
        assert str(spans[-1][1]) == "19 years"
        assert all(one[1] == two[0] for one, two in pairwise(spans))


def test_every_blank_of_a_step_is_one_that_is_filled():
    known = {"volume", "needle", "site", "landmark", "apart", "others", "minutes", "diluent"}
    for row in step_rows():
        blanks = {name for _, name, _, _ in string.Formatter().parse(row.text) if name}
        assert blanks <= known, row.key


def test_nobody_over_eighteen_gets_a_guess():
    child, on = child_of("19 years")
    layout = equip(child, on, [dose("HepB-adult-10"), dose("MMR")])
    assert layout.places == ()
    assert all("no site" in left.why for left in layout.unplaced)
    child, on = child_of("19 years", less_days=1)
    assert len(equip(child, on, [dose("HepB-adult-10")]).places) == 1


def test_a_visit_without_doses_is_empty():
    child, on = child_of("2 months")
    layout = equip(child, on, [])
    assert (layout.places, layout.unplaced, layout.cautions) == ((), (), ())


@pytest.mark.parametrize(
    ("days", "kg", "said", "allowed"),
    [(365, 50.0, False, {16, 25}), (366, 50.0, True, {16, 25}), (-1, 50.0, True, {25})],
)
def test_an_old_weight_is_said_and_a_future_one_left_aside(days, kg, said, allowed):
    """Common practice: weigh again after a year."""
    child, on = child_of("14 years")
    known = {"weight_kg": kg, "weighed_on": on - timedelta(days=days)}
    place = equip_one("14 years", "HPV9", **known)
    assert {needle.length_mm for needle in place.needle_choices} == allowed
    cautions = equip(*child_of("14 years", **known), [dose("HPV9")]).cautions
    assert said == any("weigh again" in text or "left aside" in text for text in cautions)
    assert child.weight_kg is None
