"""What tray and session make of supplies that expire and of files that cannot be used. Invented."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from traywise.cli import main
from traywise.demo.load import demo_files

ON = "2026-11-24"
CHILD = {"id": "a1", "born": "2026-07-12", "weight_kg": 6.4, "doses": []}
HEADER = "item,gauge,length_mm,volume_ml,count,expires\n"
# Invented: at 4 months three injections into the muscle want 25 mm.
EXPIRED = HEADER + "needle,25,25,,9,2026-11-23\nneedle,23,25,,9,2026-11-24\nwipe,,,,9,2026-11-23\n"
BAD_SHELF = "lot,cvx,presentation,doses,expires\nA1,9999,prefilled,2,2027-01\n"


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    (tmp_path / "child.json").write_text(json.dumps(CHILD))
    (tmp_path / "shelf.csv").write_bytes(demo_files()["shelf"].read_bytes())
    return tmp_path


def ask(command: str, clinic: Path, *more: object) -> Result:
    shelf = () if "--shelf" in more else ("--shelf", clinic / "shelf.csv")
    asked = (command, clinic / "child.json", *shelf, "--on", ON, *more)
    return CliRunner().invoke(main, [str(one) for one in asked])


def answer_of(command: str, result: Result) -> dict:
    answer = json.loads(result.stdout)
    return answer["children"][0] if command == "session" else answer


@pytest.mark.parametrize("command", ["tray", "session"])
def test_expired_supplies_are_named_and_not_laid_ready(clinic: Path, command: str):
    (clinic / "s.csv").write_text(EXPIRED)
    result = ask(command, clinic, "--supplies", clinic / "s.csv", "--json")
    assert result.exit_code == 0, result.output
    child = answer_of(command, result)
    needles = [one for one in child["supplies"] if one["item"] == "needle"]
    assert {(one["gauge"], one["expires"]) for one in needles} == {(23, ON)}
    whole = json.loads(result.stdout)
    told = [one["text"] for one in whole["warnings"] if one["code"] == "supplies.W013"]
    assert ["9 × needle 25 G × 25 mm expired on 2026-11-23" in text for text in told] == [
        True,
        False,
    ]


def test_the_board_says_what_to_take_out_and_the_count_says_which_box(clinic: Path):
    (clinic / "s.csv").write_text(EXPIRED)
    result = ask("session", clinic, "--supplies", clinic / "s.csv", "--csv", clinic / "out")
    board = " ".join(result.stdout.split())
    assert "■ 9 × needle 25 G × 25 mm: expired on 2026-11-23 · take out, not counted" in board
    assert "needle 23 G × 25 mm (1 in), expires 2026-11-24" in board
    counted = (clinic / "out" / "count-out.csv").read_text()
    assert "item,gauge,length_mm,volume_ml,count,expires" in counted
    assert ",2026-11-24" in counted


@pytest.mark.parametrize("command", ["tray", "session"])
@pytest.mark.parametrize("shelf", [BAD_SHELF, "", "lot;cvx\nA1;08\n"])
def test_a_shelf_that_cannot_be_read_ends_with_1_and_the_record_is_answered(
    clinic: Path, command: str, shelf: str
):
    (clinic / "bad.csv").write_text(shelf)
    result = ask(command, clinic, "--shelf", clinic / "bad.csv", "--json")
    assert result.exit_code == 1
    child = answer_of(command, result)
    assert child["groups"]["DTaP"]["status"] == "overdue"
    assert child["tray"] == []
    assert {one["why"] for one in child["not_today"]} == {"the shelf could not be read"}
    whole = json.loads(result.stdout)
    assert "shelf.E005" in [one["code"] for one in whole["errors"]]
    assert not whole.get("reorder")  # nobody knows what lies there
    shown = " ".join(ask(command, clinic, "--shelf", clinic / "bad.csv").stdout.split())
    assert "The shelf could not be read: with the faults of this file not one lot" in shown
    assert "proven best" not in shown


@pytest.mark.parametrize("command", ["tray", "session"])
@pytest.mark.parametrize(
    "shelf",
    [
        "lot,cvx,presentation,doses,expires\n",
        "lot,cvx,presentation,doses,expires\nA1,08,prefilled,2,2020-01\n",
        BAD_SHELF + "A2,08,prefilled,2,2027-01\n",
    ],
)
def test_an_empty_an_expired_and_a_partly_read_shelf_are_answers(
    clinic: Path, command: str, shelf: str
):
    (clinic / "other.csv").write_text(shelf)
    result = ask(command, clinic, "--shelf", clinic / "other.csv")
    assert result.exit_code == 0
    assert "could not be read" not in result.stdout


@pytest.mark.parametrize("command", ["tray", "session"])
def test_supplies_that_cannot_be_read_are_unknown_and_not_lacking(clinic: Path, command: str):
    (clinic / "s.csv").write_text("item\nneedle\n")
    result = ask(command, clinic, "--supplies", clinic / "s.csv", "--json")
    assert result.exit_code == 1
    child = answer_of(command, result)
    injected = [place for place in child["tray"] if place["route"] == "IM"]
    assert all(place["needle"] and not place["needle_missing"] for place in injected)
    shown = ask(command, clinic, "--supplies", clinic / "s.csv").stdout
    assert "The supplies could not be read" in " ".join(shown.split())


def test_a_sheet_says_that_the_shelf_was_not_read(clinic: Path):
    (clinic / "bad.csv").write_text(BAD_SHELF)
    result = ask("tray", clinic, "--shelf", clinic / "bad.csv", "--pdf", clinic / "sheet.pdf")
    assert result.exit_code == 1
    assert (clinic / "sheet.pdf").read_bytes().startswith(b"%PDF")
