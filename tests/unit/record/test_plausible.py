"""Values that can hardly be true: both sides of each limit, and the slip that is guessed."""

from __future__ import annotations

import json
from datetime import date

import pytest

from traywise.record import read_children

TODAY = date(2026, 11, 24)


def faults(today=TODAY, day=None, **values):
    text = json.dumps({"id": "a", "born": "2026-01-05", **values})
    return read_children(text, "f.json", today=today, day=day).all_faults


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [  # limits: common practice, editions/tables/plausibility.toml
        ("gestation_weeks", 20, None), ("gestation_weeks", 19, "record.E043"),
        ("gestation_weeks", 45, None), ("gestation_weeks", 46, "record.E043"),
        ("birth_weight_g", 250, None), ("birth_weight_g", 249, "record.E045"),
        ("birth_weight_g", 8000, None), ("birth_weight_g", 8001, "record.E045"),
        ("height_cm", 20, None), ("height_cm", 19.9, "record.E046"),
        ("weight_kg", 13.8, None), ("weight_kg", 13.9, "record.W013"),
        ("weight_kg", 3.5, None), ("weight_kg", 3.4, "record.W013"),
        ("weight_kg", 301, "record.E044"),
    ],
)  # fmt: skip
def test_limits_hold_on_both_sides(field, value, code):
    assert [fault.code for fault in faults(**{field: value})] == ([code] if code else [])


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("gestation_weeks", 273, "days were meant, write 39 "),
        ("birth_weight_g", 3, "kilograms were meant, write 3000 "),
        ("weight_kg", 8100, "grams were meant, write 8.1 "),
        ("weight_kg", 18, "pounds were meant, write 8.165 "),
        ("height_cm", 0.7, "metres were meant, write 70 "),
    ],
)
def test_a_slip_of_unit_is_named_with_the_value_meant(field, value, said):
    assert said in faults(**{field: value})[0].text


def test_a_weight_is_judged_at_the_age_it_was_measured():
    assert faults(weight_kg=4.5, weighed_on="2026-02-05") == ()
    assert [fault.code for fault in faults(weight_kg=2.9, weighed_on="2026-11-05")] == [
        "record.W013"
    ]


@pytest.mark.parametrize(
    ("on", "code"),
    [
        ("2026-01-04", "record.E041"), ("2026-01-05", None), ("2026-11-24", None),
        ("2026-11-25", "record.E042"),
    ],
)  # fmt: skip
def test_a_dose_lies_between_birth_and_today(on, code):
    found = faults(doses=[{"on": on, "cvx": "08"}])
    assert [fault.code for fault in found] == ([code] if code else [])


def test_a_dose_after_the_day_asked_for_is_only_doubted():
    doses = [{"on": "2026-03-05", "cvx": "08"}]
    assert [f.code for f in faults(doses=doses, day=date(2026, 3, 4))] == ["record.W012"]
    assert faults(doses=doses, day=date(2026, 3, 5)) == ()


def test_a_day_ahead_may_be_asked_for():
    doses = [{"on": "2027-03-05", "cvx": "08"}]
    assert faults(doses=doses, day=date(2027, 3, 5)) == ()


def test_nobody_is_answered_for_a_day_before_birth():
    assert [f.code for f in faults(day=date(2026, 1, 4))] == ["record.E040"]
    assert faults(day=date(2026, 1, 5)) == ()


@pytest.mark.parametrize(
    ("first", "second", "code"),
    [("20", "20", "record.W010"), ("20", "110", "record.W011"), ("20", "03", None)],
)
def test_doses_of_one_day_are_compared(first, second, code):
    found = faults(doses=[{"on": "2026-03-05", "cvx": cvx} for cvx in (first, second)])
    assert [fault.code for fault in found] == ([code] if code else [])


def test_a_dose_is_used_on_its_last_day():
    def codes(expires):
        dose = {"on": "2026-03-05", "cvx": "20", "expires": expires}
        return [fault.code for fault in faults(doses=[dose])]

    assert (codes("2026-03-05"), codes("2026-03-04")) == ([], ["record.W016"])


def test_a_schedule_for_children_ends_at_the_nineteenth_birthday():
    def codes(born):
        text = json.dumps({"id": "a", "born": born})
        return [f.code for f in read_children(text, "f", today=TODAY).all_faults]

    assert (codes("2007-11-25"), codes("2007-11-24")) == ([], ["record.W014"])
