"""Invented populations look like the ones that clinics keep, and come back with their seed."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pyarrow.parquet as pq

from traywise.calendar import age_on
from traywise.population.invented import invention
from traywise.population.make import make_children, make_file
from traywise.rulebook.codes import cvx_codes
from traywise.rulebook.conditions import conditions

ON = date(2026, 11, 24)
CHILDREN = make_children(0, 4_000, 9, ON).to_pylist()


def share(hits: int) -> float:
    return hits / len(CHILDREN)


def test_the_same_seed_gives_the_same_children_with_any_number_of_workers(tmp_path: Path) -> None:
    for name, workers, seed in (("a", 1, 4), ("b", 2, 4), ("c", 1, 5)):
        make_file(200_000, tmp_path / name, seed, ON, workers, lambda _: None)
    a, b, c = (pq.read_table(tmp_path / name, columns=["born", "dose_on"]) for name in "abc")

    assert a.equals(b)
    assert not a.equals(c)


def test_children_are_from_birth_through_18_years() -> None:
    ages = [age_on(child["born"], ON).years for child in CHILDREN]

    assert set(ages) == set(range(19))


def test_doses_lie_between_birth_and_the_day_and_have_known_codes() -> None:
    for child in CHILDREN:
        assert all(child["born"] <= day <= ON for day in child["dose_on"])
        assert child["dose_on"] == sorted(child["dose_on"])
        assert all(f"{code:02d}" in cvx_codes() for code in child["dose_cvx"])


def test_conditions_are_known_and_rare() -> None:
    held = [key for child in CHILDREN for key in child["conditions"]]

    assert set(held) <= set(conditions())
    assert 0.01 < share(sum(bool(child["conditions"]) for child in CHILDREN)) < 0.2


def test_records_are_late_partial_wrong_and_missing_as_the_tables_say() -> None:
    toddlers = [child for child in CHILDREN if (ON - child["born"]).days > 800]
    first = [child["dose_on"][0] - child["born"] for child in toddlers if child["dose_on"]]
    empty = [child for child in toddlers if not child["dose_on"]]
    twice = sum(
        len(set(zip(c["dose_on"], c["dose_cvx"], strict=True))) < len(c["dose_on"])
        for c in toddlers
    )

    assert 0.005 < len(empty) / len(toddlers) < 0.06
    assert 0.02 < sum(wait > timedelta(days=365) for wait in first) / len(first) < 0.15
    assert 0.005 < twice / len(toddlers) < 0.2
    given = {code for child in toddlers for code in child["dose_cvx"]}
    wrong = {int(row.instead) for row in invention().mistakes if row.kind == "wrong product"}
    assert len(given & wrong) >= 4


def test_combination_products_differ_from_child_to_child() -> None:
    toddlers = [child for child in CHILDREN if 800 < (ON - child["born"]).days < 1_600]

    for code in (146, 110, 120, 20):
        assert 0.03 < sum(code in c["dose_cvx"] for c in toddlers) / len(toddlers) < 0.99


def test_shares_of_ways_and_families_sum_to_one() -> None:
    kinds: dict[str, float] = {}
    for way in invention().ways:
        kind = way.key.partition("/")[0]
        kinds[kind] = kinds.get(kind, 0) + way.share
    families = sum(family.share for family in invention().families)

    assert {kind: round(total, 9) for kind, total in kinds.items()} == dict.fromkeys(kinds, 1.0)
    assert round(families, 9) == 1.0
    assert all(set(dose.way) <= {way.key for way in invention().ways} for dose in invention().doses)
