"""Waits and windows, both sides of every limit; source beside each."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from traywise.calendar import Span, add
from traywise.record.child import Child, Condition, CvxCode, DoseGiven, ProductReceived
from traywise.rulebook.antibody_products import antibody_products, months_to_wait
from traywise.rulebook.vaccines import vaccines
from traywise.screening import Screening, screen

BORN = date(2018, 1, 10)
ON = date(2026, 3, 2)


def look(on: date = ON, groups: tuple[str, ...] = ("MMR", "VAR"), **more: Any) -> Screening:
    child = Child(id="invented", born=BORN, **more)
    return screen(child, on, groups, tuple(vaccines().values()))


def last(key: str, day: date) -> tuple[Condition, ...]:
    return (Condition(key=key, until=day),)


# Condition, group, last dose days before, in the way, first free day.
SINCE_LAST_DOSE = [
    ("herpes-antiviral", "VAR", 0, True, 1),  # 24 h; IMZ R
    ("herpes-antiviral", "VAR", 1, False, 1),
    ("oseltamivir", "LAIV", 1, True, 2),  # 48 h; FLU 2023-24 R
    ("oseltamivir", "LAIV", 2, False, 2),
    ("zanamivir", "LAIV", 1, True, 2),
    ("zanamivir", "LAIV", 2, False, 2),
    ("peramivir", "LAIV", 4, True, 5),  # 5 days; FLU 2023-24 R
    ("peramivir", "LAIV", 5, False, 5),
    ("baloxavir", "LAIV", 16, True, 17),  # 17 days; FLU 2023-24 R
    ("baloxavir", "LAIV", 17, False, 17),
    ("live-vaccine-recent", "MMR", 27, True, 28),  # GBP3 R
    ("live-vaccine-recent", "MMR", 28, False, 28),
]


@pytest.mark.parametrize(("key", "what", "days_ago", "stands", "wait"), SINCE_LAST_DOSE)
def test_days_since_the_last_dose(
    key: str, what: str, days_ago: int, stands: bool, wait: int
) -> None:
    day = ON - timedelta(days=days_ago)
    groups = ("Flu",) if what == "LAIV" else (what,)
    screening = look(groups=groups, conditions=last(key, day))
    blocked = (
        "LAIV3" in screening.blocked_vaccines()
        if what == "LAIV"
        else (screening.blocks_group(what))
    )
    assert blocked is stands
    if stands:
        assert screening.findings[0].until == day + timedelta(days=wait)


# Condition, months to wait after the end.
AFTER_TREATMENT = [
    ("steroid-high-dose", 1),  # GBP8 R
    ("chemotherapy", 3),  # IDSA13 Table 3 R
    ("biologic-therapy", 1),  # review R
    ("anti-b-cell", 6),  # IDSA13, m for live vaccines
]


@pytest.mark.parametrize(("key", "months"), AFTER_TREATMENT)
def test_months_after_treatment(key: str, months: int) -> None:
    end = date(2025, 10, 15)
    free = add(end, Span(months=months))
    before = look(free - timedelta(days=1), conditions=last(key, end))
    assert before.deferred_until("MMR") == free
    assert not look(free, conditions=last(key, end)).blocks_group("MMR")
    # Going on, with no known end: closed, and no date is made up.
    going_on = look(conditions=(Condition(key=key),))
    assert going_on.blocks_group("VAR")
    assert going_on.deferred_until("VAR") is None


def test_stem_cell_transplant_waits_24_months_from_the_day() -> None:  # review R, rest m
    day = date(2024, 3, 2)
    transplant = (Condition(key="haematopoietic-transplant", since=day),)
    free = date(2026, 3, 2)
    assert look(date(2026, 3, 1), conditions=transplant).deferred_until("MMR") == free
    assert not look(free, conditions=transplant).blocks_group("MMR")


@pytest.mark.parametrize(("weeks", "days", "stands"), [(3, 6, True), (4, 0, False)])
def test_live_vaccine_before_planned_treatment(weeks: int, days: int, stands: bool) -> None:
    # IDSA13, 4 weeks; m
    starts = ON + timedelta(weeks=weeks, days=days)
    planned = (Condition(key="immunosuppression-planned", since=starts),)
    assert look(conditions=planned).blocks_group("MMR") is stands


@pytest.mark.parametrize("key", ["splenectomy-planned", "cochlear-implant-planned"])
@pytest.mark.parametrize("group", ["PCV", "PPSV"])
@pytest.mark.parametrize(("days", "told"), [(1, True), (0, True), (-1, False)])
def test_pneumococcal_vaccines_before_an_operation(
    key: str, group: str, days: int, told: bool
) -> None:
    # Immunize.org, Ask the Experts: before the operation if possible; it blocks nothing.
    planned = last(key, ON + timedelta(days=days))
    screening = look(groups=(group,), conditions=planned)
    said = [one for one in screening.findings if one.key == "pneumococcal-before-operation"]
    assert bool(said) is told
    assert not screening.blocks_group(group)


def test_arthus_waits_10_years_from_the_last_tetanus_dose() -> None:  # APX-C, IMZ R
    doses = tuple(
        DoseGiven(on=day, cvx=CvxCode("20")) for day in (date(2018, 3, 10), date(2019, 5, 10))
    )
    more = {"doses": doses, "conditions": (Condition(key="arthus-after-toxoid"),)}
    before = look(date(2029, 5, 9), ("DTaP",), **more)
    assert before.deferred_until("DTaP") == date(2029, 5, 10)
    assert not look(date(2029, 5, 10), ("DTaP",), **more).blocks_group("DTaP")


# Every line of the table (GBP3 Table 3-6, read in two reproductions).
MONTHS = {
    "washed-red-cells": 0, "adenine-saline-red-cells": 3, "packed-red-cells": 6,
    "whole-blood": 6, "plasma-or-platelets": 7, "botulinum-igiv": 6, "cmv-igiv": 6,
    "hepa-ig-contact": 6, "hepa-ig-travel-under-1-month": 6, "hepa-ig-travel-1-month-up": 6,
    "hbig": 3, "igiv-replacement": 8, "igiv-measles-contact-400mg-kg": 8,
    "igiv-varicella-contact-400mg-kg": 8, "igiv-itp-400mg-kg": 8, "igiv-itp-1000mg-kg": 10,
    "igiv-kawasaki-2g-kg": 11, "igiv-mis-c-2g-kg": 11, "measles-ig": 6, "rabies-ig": 4,
    "tetanus-ig": 3, "varicella-ig": 5, "palivizumab": 0, "nirsevimab": 0, "clesrovimab": 0,
    "covid-monoclonal": 0,
}  # fmt: skip


def test_the_interval_table_is_whole() -> None:
    assert {key: row.months for key, row in antibody_products().items()} == MONTHS
    assert months_to_wait("a product nobody knows") is None


@pytest.mark.parametrize("kind", [kind for kind, months in MONTHS.items() if months])
def test_antibody_product_holds_back_mmr_and_var_only(kind: str) -> None:
    day = date(2025, 6, 15)
    free = add(day, Span(months=MONTHS[kind]))
    received = (ProductReceived(on=day, kind=kind),)
    before = look(free - timedelta(days=1), ("MMR", "VAR", "HepA", "Flu"), products=received)
    assert before.deferred_until("MMR") == before.deferred_until("VAR") == free
    assert not before.blocks_group("HepA")
    assert not before.blocks_group("Flu")
    assert not look(free, products=received).blocks_group("MMR")


@pytest.mark.parametrize("kind", [kind for kind, months in MONTHS.items() if not months])
def test_product_without_a_wait_is_named_as_no_reason(kind: str) -> None:
    screening = look(products=(ProductReceived(on=ON, kind=kind),))
    assert [f.kind for f in screening.findings] == ["not a reason"]
    assert not screening.blocks_group("MMR")


def test_the_longest_of_several_products_decides() -> None:
    received = tuple(
        ProductReceived(on=date(2026, 1, 5), kind=kind) for kind in ("hbig", "whole-blood")
    )
    assert look(products=received).deferred_until("MMR") == date(2026, 7, 5)


def test_product_of_unknown_kind_waits_longest_and_says_so() -> None:
    received = (ProductReceived(on=date(2026, 1, 5), kind="new-globulin"),)
    screening = look(products=received)
    assert screening.deferred_until("MMR") == date(2026, 12, 5)
    assert [fault.code for fault in screening.faults] == ["screening.W002"]


# mg a day, days, weight, what it amounts to (GBP8 as quoted by CDC, R)
STEROIDS = [
    (20, 14, 30.0, "defer"),
    (20, 13, 30.0, "give"),
    (19.9, 14, 30.0, "give"),
    (20, 14, None, "defer"),  # 20 mg is enough at any weight
    (16, 14, 8.0, "defer"),  # 2 mg/kg
    (15.9, 14, 8.0, "give"),
    (16, 14, None, "unclear"),  # the weight decides and is not known
    (16, 13, None, "give"),
    (None, 14, 30.0, "unclear"),
    (20, None, 30.0, "unclear"),
]


@pytest.mark.parametrize(("mg", "days", "kg", "means"), STEROIDS)
def test_steroid_by_dose_days_and_weight(
    mg: float | None, days: int | None, kg: float | None, means: str
) -> None:
    answers: dict[str, Any] = {"steroid": "systemic", "steroid-last-on": "2026-02-20"}
    answers |= {} if mg is None else {"steroid-mg-per-day": mg}
    answers |= {} if days is None else {"steroid-days": days}
    screening = look(answers=answers, weight_kg=kg)
    asked = {question.key for question in screening.questions}
    if means == "give":
        assert [f.kind for f in screening.findings] == ["not a reason"]
        assert not asked & {"steroid-mg-per-day", "steroid-days", "weight-kg"}
        return
    assert screening.deferred_until("MMR") == date(2026, 3, 20)
    unclear = bool(asked & {"steroid-mg-per-day", "steroid-days", "weight-kg"})
    assert unclear is (means == "unclear")
    assert ("weight-kg" in asked) is (means == "unclear" and mg == 16)


def test_live_dose_of_the_record_counts_oral_ones_do_not() -> None:  # GBP3, IMZ R
    laiv = (DoseGiven(on=date(2026, 2, 10), cvx=CvxCode("111"), route="NAS"),)
    assert look(doses=laiv).deferred_until("MMR") == date(2026, 3, 10)
    oral = (DoseGiven(on=date(2026, 2, 10), cvx=CvxCode("25"), route="PO"),)
    assert not look(doses=oral).blocks_group("MMR")
    same_day = (DoseGiven(on=ON, cvx=CvxCode("111"), route="NAS"),)
    assert not look(doses=same_day).blocks_group("MMR")


def test_pregnancy_with_a_known_end_gives_a_date() -> None:
    pregnant = (Condition(key="pregnant", until=date(2026, 5, 1)),)
    assert look(conditions=pregnant).deferred_until("MMR") == date(2026, 5, 2)
    assert not look(date(2026, 5, 2), conditions=pregnant).blocks_group("MMR")
