"""Whole children worked out by hand from the published tables; see the TOML files beside this."""

from __future__ import annotations

import pytest
from tests.cases.cases import Case, badly_written, differences, read_cases, told

from traywise.rulebook.edition import load_edition
from traywise.rulebook.tables import sources
from traywise.schedule.assess import assess

CASES = read_cases()


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_answer_is_what_was_worked_out_by_hand(case: Case) -> None:
    lines = differences(case, assess(case.child(), "us-2025", case.on))
    assert not lines, told(case, lines)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_case_uses_the_words_of_the_answer_and_names_a_source(case: Case) -> None:
    assert badly_written(case) == []
    assert case.source.split(",")[0].split(";")[0] in sources(), case.source


def test_names_are_unique() -> None:
    names = [case.name for case in CASES]
    assert sorted(names) == sorted(set(names))


def test_every_group_has_a_case() -> None:
    assert {group for case in CASES for group in case.expect} == set(
        load_edition("us-2025").head.groups
    )
