"""One broken file for each fault code of the rulebook: the code is told and its place is named."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from traywise.errors import Fault, RulebookError
from traywise.rulebook.check_files import check_files
from traywise.rulebook.conditions import ConditionRow, implied_faults
from traywise.rulebook.edition import load_edition, read_edition
from traywise.rulebook.fault_codes import FAULTS
from traywise.rulebook.tables import read_rows
from traywise.screening.question_rows import QuestionRow, question_faults
from traywise.screening.rules import ScreeningRule, rule_faults

HERE = Path(__file__).parent / "rulebook"
SOURCE = Path(__file__).parents[2] / "src" / "traywise"
FILES = sorted(HERE.iterdir())
# A table that is read together with other tables, by the last digits of its codes.
TABLES: dict[str, tuple[type, Callable[..., list[Fault]]]] = {
    "E030": (ConditionRow, implied_faults),
    "E031": (ScreeningRule, rule_faults),
    "E032": (ScreeningRule, rule_faults),
    "E033": (ScreeningRule, rule_faults),
    "E034": (QuestionRow, question_faults),
    "E035": (QuestionRow, question_faults),
    "E036": (QuestionRow, question_faults),
}


def faults_of(path: Path) -> list[Fault]:
    if path.stem in TABLES:
        row_type, check = TABLES[path.stem]
        rows, faults = read_rows(path, row_type)
        return faults + check(rows)
    if path.stem == "E021":
        return read_edition(f"us-2025+{path}")[1]
    return check_files(path)[1]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_broken_file_is_told_by_its_code_alone(path: Path):
    faults = faults_of(path)
    assert {fault.code for fault in faults} == {f"rulebook.{path.stem}"}
    for fault in faults:
        assert fault.at
        assert fault.text.endswith("."), fault.text


@pytest.mark.parametrize("code", ["E012", "E014", "E022", "E023"])
def test_a_fault_of_an_overlay_names_its_file_and_entry(code: str):
    (fault,) = faults_of(HERE / f"{code}.toml")
    assert fault.at.startswith(f"{code}.toml, ")
    assert re.search(r"(add|remove) 1", fault.at)


def test_a_broken_overlay_does_not_load():
    with pytest.raises(RulebookError) as caught:
        load_edition(f"us-2025+{HERE / 'E025.toml'}")
    assert [fault.code for fault in caught.value.faults] == ["rulebook.E025"]


def test_all_faults_of_a_file_are_told_at_once(tmp_path: Path):
    text = (HERE / "E022.toml").read_text() + (HERE / "E014.toml").read_text().partition("\n\n")[2]
    path = tmp_path / "both.toml"
    path.write_text(text, encoding="utf-8")
    assert {fault.code for fault in check_files(path)[1]} == {"rulebook.E014", "rulebook.E022"}


@pytest.mark.parametrize("name", ["us-1066", "us-2025+nobody", "nobody"])
def test_an_unknown_name_lists_the_known_ones(name: str):
    (fault,) = read_edition(name)[1]
    assert fault.code in ("rulebook.E020", "rulebook.E027")
    assert "us-2025" in fault.text or "aap-2026" in fault.text


def test_each_code_has_its_broken_file_and_each_is_listed():
    text = "".join(
        path.read_text(encoding="utf-8")
        for path in SOURCE.rglob("*.py")
        if path.name != "fault_codes.py"
    )
    used = set(re.findall(r'"(rulebook\.[EW]\d{3})"', text))
    assert used == set(FAULTS)
    assert {f"rulebook.{path.stem}" for path in FILES} == used
