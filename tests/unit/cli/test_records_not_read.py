"""A session of which records could not be read says so on the plan itself. Invented."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from traywise.cli import main

SHELF = "lot,cvx,presentation,doses,expires\nMM1,03,prefilled,4,2027-06\n"
GOOD = '{"id": "anna", "born": "2025-07-10"}\n'
BAD = '{"id": "ben", "born": "2025-13-10"}\n'


def headline(folder: Path, roster: str) -> tuple[str, str]:
    """The second line of the plan, and all of it."""
    (folder / "roster.jsonl").write_text(roster)
    (folder / "shelf.csv").write_text(SHELF)
    files = [str(folder / "roster.jsonl"), "--shelf", str(folder / "shelf.csv")]
    done = CliRunner().invoke(main, ["session", *files, "--on", "2026-11-24"])
    assert done.exit_code == (0 if roster == GOOD else 1)
    return done.stdout.splitlines()[1], done.stdout


@pytest.mark.parametrize(
    ("roster", "start"),
    [
        (GOOD, "1 child, "),
        (GOOD + BAD, "1 record not read, not in this plan. 1 child, "),
        (BAD, "1 record not read, not in this plan. No child is planned for."),
        (BAD + BAD.replace("ben", "cleo"), "2 records not read, not in this plan. No child"),
        ("", "No record was read. No child is planned for."),
    ],
)
def test_the_headline_tells_how_many_are_not_in_the_plan(
    tmp_path: Path, roster: str, start: str
) -> None:
    assert headline(tmp_path, roster)[0].startswith(start)


def test_what_to_watch_names_who_is_not_in_the_plan(tmp_path: Path) -> None:
    shown = headline(tmp_path, GOOD + BAD)[1].partition("\nWatch\n")[2]
    assert "ben (roster.jsonl, line 2)" in shown
