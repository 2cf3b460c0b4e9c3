"""The commands as a person or another program calls them: shapes, exit codes, messages."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from traywise.cli import COMMANDS, main
from traywise.demo.load import demo_files

INFANT = {
    "id": "a1",
    "born": "2026-07-12",
    "sex": "F",
    "weight_kg": 6.4,
    "doses": [{"on": "2026-07-12", "cvx": "08"}, {"on": "2026-09-14", "cvx": "110"}],
}
ANSWER_KEYS = {"id", "assess_on", "edition", "doses", "groups", "errors", "warnings"}
GROUP_KEYS = {
    *("status", "next_dose", "earliest", "due", "overdue", "latest", "row", "why", "source"),
}
PLACE_KEYS = {
    *("n", "cvx", "lot", "groups", "route", "volume_ml", "site", "position", "needle"),
    *("angle_deg", "technique", "syringe", "steps", "why", "source"),
}


def run(*arguments: object, text: str | None = None) -> Result:
    return CliRunner().invoke(main, [str(one) for one in arguments], input=text)


def lines(result: Result) -> list[dict[str, Any]]:
    return [json.loads(line) for line in result.stdout.splitlines()]


@pytest.fixture
def child(tmp_path: Path) -> Path:
    path = tmp_path / "child.json"
    path.write_text(json.dumps(INFANT))
    return path


def test_forecast_answers_one_child_in_the_agreed_shape(child: Path) -> None:
    result = run("forecast", child, "--on", "2026-11-24")
    assert result.exit_code == 0
    (answer,) = lines(result)
    assert answer.keys() == ANSWER_KEYS
    assert answer["edition"] == "us-2025"
    assert answer["doses"][1]["groups"].keys() == {"HepB", "DTaP", "IPV"}
    assert all(one.keys() >= GROUP_KEYS for one in answer["groups"].values())


def test_forecast_keeps_the_order_and_answers_the_others() -> None:
    text = "\n".join(
        (
            '{"id": "first", "born": "2024-05-03"}',
            '{"id": "second", "born": "2024-02-31"}',
            '{"id": "third", "born": "2024-05-03"}',
        )
    )
    result = run("forecast", "-", "--on", "2026-01-01", text=text)
    assert result.exit_code == 1
    first, second, third = lines(result)
    assert [first["id"], second["id"], third["id"]] == ["first", "second", "third"]
    assert first["groups"]
    assert third["groups"]
    assert second["groups"] == {}
    (error,) = second["errors"]
    assert error.keys() == {"code", "at", "text"}
    assert "2024-02-31" in error["text"]


def test_the_day_a_record_asks_for_comes_before_the_commands(child: Path) -> None:
    child.write_text(json.dumps({**INFANT, "assess_on": "2026-10-01"}))
    (answer,) = lines(run("forecast", child, "--on", "2026-11-24"))
    assert answer["assess_on"] == "2026-10-01"


def test_a_day_far_ahead_is_answered_with_doses_before_it(child: Path) -> None:
    ahead = {**INFANT, "born": "2054-07-12", "doses": [{"on": "2054-07-12", "cvx": "08"}]}
    child.write_text(json.dumps(ahead))
    result = run("forecast", child, "--on", "2054-11-24")
    assert result.exit_code == 0
    assert lines(result)[0]["doses"][0]["groups"]["HepB"]["status"] == "valid"


def test_why_gives_the_chain_in_sentences(child: Path) -> None:
    (answer,) = lines(run("forecast", child, "--on", "2026-11-24", "--why"))
    chain = answer["groups"]["DTaP"]["chain"]
    assert chain[0].startswith("2026-09-14 DTaP-HepB-IPV: valid")
    assert chain[-1].startswith("Now due")


@pytest.mark.parametrize(
    "arguments",
    [
        ("forecast",),
        ("forecast", "no-such-file.json"),
        ("forecast", "-", "--edition", "no-such-edition"),
        ("forecast", "-", "--on", "2026-13-01"),
        ("tray", "-"),
        ("no-such-command",),
    ],
)
def test_a_wrong_command_line_exits_with_2(arguments: tuple[str, ...]) -> None:
    result = run(*arguments, text='{"id": "a", "born": "2026-01-01"}')
    assert result.exit_code == 2
    assert "Error" in result.output


def test_tray_adds_its_keys_to_the_answer(child: Path) -> None:
    shelf = demo_files()["shelf"]
    result = run("tray", child, "--shelf", shelf, "--on", "2026-11-24", "--json")
    assert result.exit_code == 0
    (visit,) = lines(result)
    assert visit.keys() >= ANSWER_KEYS | {
        *("tray", "not_today", "questions", "supplies", "cautions"),
    }
    assert visit["tray"]
    assert all(place.keys() >= PLACE_KEYS for place in visit["tray"])
    assert [place["n"] for place in visit["tray"]] == list(range(1, len(visit["tray"]) + 1))
    assert all(item.keys() >= {"group", "why", "until", "source"} for item in visit["not_today"])


def test_tray_refuses_a_file_of_several_children(tmp_path: Path) -> None:
    result = run("tray", demo_files()["roster"], "--shelf", demo_files()["shelf"])
    assert result.exit_code == 2
    assert "traywise session" in result.output


def test_tray_writes_a_sheet(child: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.pdf"
    shelf = demo_files()["shelf"]
    result = run("tray", child, "--shelf", shelf, "--on", "2026-11-24", "--pdf", sheet)
    assert result.exit_code == 0
    assert sheet.read_bytes().startswith(b"%PDF")


def test_session_plans_the_demo_and_writes_its_files(tmp_path: Path) -> None:
    files = demo_files()
    result = run(
        *("session", files["roster"], "--shelf", files["shelf"], "--supplies", files["supplies"]),
        *("--on", "2026-11-24", "--check", "--json", "--csv", tmp_path, "--pdf", tmp_path),
    )
    assert result.exit_code == 0, result.output
    plan = json.loads(result.stdout)
    assert plan["proven"]
    assert len(plan["children"]) == 16
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {
        *("trays.csv", "pick-list.csv", "count-out.csv", "mix-and-open.csv", "not-served.csv"),
        *("day.pdf", "trays.pdf"),
    }
    rows = (tmp_path / "trays.csv").read_text().splitlines()
    assert len(rows) == 1 + sum(len(child["tray"]) for child in plan["children"])


def test_session_in_words_has_the_board_and_the_proof() -> None:
    files = demo_files()
    result = run("session", files["roster"], "--shelf", files["shelf"], "--on", "2026-11-24")
    assert result.exit_code == 0
    assert "16 children" in result.output
    assert "proven best" in result.output
    assert max(map(len, result.stdout.splitlines())) <= 100


def test_demo_says_what_it_wrote_and_what_to_try_next(tmp_path: Path) -> None:
    result = run("demo", tmp_path / "demo")
    assert result.exit_code == 0, result.output
    for word in ("Odile Fenwright", "trays.pdf", "Next", "Child by child"):
        assert word in result.output
    assert (tmp_path / "demo" / "trays.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_has_help_and_stands_in_a_document(name: str) -> None:
    result = run(name, "--help")
    assert result.exit_code == 0
    assert len(result.output) > 100
    root = Path(__file__).resolve().parents[3]
    documents = [root / "README.md", *(root / "docs").glob("*.md")]
    assert any(f"traywise {name}" in path.read_text(encoding="utf-8") for path in documents)


def test_tray_writes_the_parents_sheet_in_two_languages(child: Path, tmp_path: Path) -> None:
    shelf = demo_files()["shelf"]
    for language in ("en", "es"):
        sheet = tmp_path / f"{language}.pdf"
        result = run(
            *("tray", child, "--shelf", shelf, "--on", "2026-11-24"),
            *("--parent-sheet", sheet, "--language", language),
        )
        assert result.exit_code == 0
        assert sheet.read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("word", "named"), [("shlef", "Did you mean shelf?"), ("Tray", "tray?"), ("zzz", "forecast, ")]
)
def test_a_mistyped_command_names_the_nearest_or_all(word: str, named: str) -> None:
    result = run(word)
    assert result.exit_code == 2
    assert named in result.output
