"""``traywise session --what-if``: a wrong wish is told before anything is planned. Invented."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from traywise.cli import main
from traywise.cli import session as _loaded  # noqa: F401  the module, so that it can be patched
from traywise.demo.load import demo_files

CHILD = {"id": "a1", "born": "2026-07-12", "doses": []}

# wish -> words that must stand in the message
WRONG = [
    ("vaccinators", "vaccinators=-1"),
    ("vaccinators=", "vaccinators=-1"),
    ("vaccinator=-1", "vaccinators=-1"),
    ("vaccinators=one", "whole number"),
    ("quarantine=PK7719", "The nearest: PK7718"),
    ("lost-unit=Fridge Z", "Fridge A, Fridge B, Freezer C"),
    ("walk-ins=nowhere.jsonl", "no such file"),
    ("walk-ins=EMPTY", "no child"),
    ("walk-ins=ROSTER", "a1 stands on the roster already"),
    ("day=2026-02-30", "YYYY-MM-DD"),
    ("day=2026-01-01", "not yet born"),
]


@pytest.fixture
def roster(tmp_path: Path) -> Path:
    path = tmp_path / "roster.json"
    path.write_text(json.dumps(CHILD))
    (tmp_path / "empty.jsonl").write_text("[]")
    return path


def ask(roster: Path, *wishes: str):
    named = {"ROSTER": str(roster), "EMPTY": str(roster.with_name("empty.jsonl"))}
    told = []
    for wish in wishes:
        kind, sign, value = wish.partition("=")
        told += ["--what-if", f"{kind}{sign}{named.get(value, value)}"]
    shelf = str(demo_files()["shelf"])
    return CliRunner().invoke(
        main, ["session", str(roster), "--shelf", shelf, "--on", "2026-11-24", *told]
    )


@pytest.mark.parametrize(("wish", "named"), WRONG)
def test_a_wrong_wish_is_refused_before_the_session_is_planned(
    roster: Path, monkeypatch: pytest.MonkeyPatch, wish: str, named: str
):
    def planned(*_: object, **__: object) -> None:
        raise AssertionError("planned before the wish was checked")

    monkeypatch.setattr("traywise.session.day.plan_session", planned)
    result = ask(roster, "vaccinators=-1", wish)
    assert result.exit_code == 2, result.output
    words = " ".join(result.output.split())
    assert all(word in words for word in named.split(", "))


@pytest.mark.parametrize(
    "wish",
    ["vaccinators=+1", "quarantine=PK7718", "lost-unit=Fridge B", "day=2026-12-01"],
)
def test_a_right_wish_is_answered(roster: Path, wish: str):
    result = ask(roster, wish)
    assert result.exit_code == 0, result.output
    assert f"What if {wish}" in result.stdout
