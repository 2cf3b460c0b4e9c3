"""``traywise shelf``: text, JSON, exit status, wrong input. The clinic is invented."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from traywise.cli import main
from traywise.demo.load import demo_files

HEADER = "lot,cvx,presentation,doses,expires,funding,unit,opened_at,discard_at\n"
LINES = (
    "OLD,83,prefilled,3,2026-10,public,Fridge A,,\n"
    "SOON,03,vial+diluent,3,2026-12-05,public,Fridge A,,\n"
    "OPEN,10,multidose,2,2027-01,,Fridge A,2026-11-20T09:10,2027-01-18T09:10\n"
    "LATE,216,prefilled,12,2027-09,,Fridge B,,\n"
)
CHILDREN = "\n".join(
    json.dumps({"id": name, "born": "2025-06-01", "answers": {"funding": funding}})
    for name, funding in (("pub-child", "public"), ("pri-child", "private"))
)


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    path = tmp_path / "shelf.csv"
    path.write_text(HEADER + LINES)
    (tmp_path / "roster.jsonl").write_text(CHILDREN)
    return path


def ask(*arguments: object) -> Result:
    asked = ["shelf", *map(str, arguments), "--on", "2026-11-24"]
    return CliRunner().invoke(main, asked)


def test_the_text_says_what_to_take_out_and_what_to_use_first(shelf: Path):
    result = ask(shelf)
    assert result.exit_code == 0, result.output
    words = " ".join(result.stdout.split())
    for part in (
        "4 lots, 17 doses may be used; 1 lot with 3 doses ends by 2026-12-24 (30 days).",
        "■ 3 HepA lot OLD Fridge A public expired on 2026-10-31",
        "▲ 2 IPV lot OPEN Fridge A throw away 2027-01-18 09:10, opened 2026-11-20 09:10",
        "▲ 2026-12-05 3 doses · MMR · lot SOON · Fridge A · public · 11 days left",
        "shelf.W001",
    ):
        assert part in words, part
    assert "due by then" not in words  # nobody was asked about
    assert max(map(len, result.stdout.splitlines())) <= 100


@pytest.mark.parametrize(("within", "soon"), [(10, []), (11, ["SOON"])])
def test_soon_is_what_was_asked_for(shelf: Path, within: int, soon: list[str]):
    answer = json.loads(ask(shelf, "--within", within, "--json").stdout)
    assert [one["lot"] for one in answer["lots"] if one["ends_soon"]] == soon
    assert answer["within_days"] == within


def test_the_roster_says_for_whom_with_funding_kept_apart(shelf: Path):
    roster = shelf.with_name("roster.jsonl")
    result = ask(shelf, "--roster", roster)
    words = " ".join(result.stdout.split())
    assert "1 child is due by then: pub-child (MMR now, public)." in words
    assert "At least 2 doses will be left over." in words
    assert "pri-child" not in words
    lots = {
        one["lot"]: one
        for one in json.loads(ask(shelf, "--roster", roster, "--json").stdout)["lots"]
    }
    assert [one["id"] for one in lots["SOON"]["children"]] == ["pub-child"]
    assert (lots["SOON"]["left_over"], lots["LATE"]["left_over"]) == (2, None)
    assert lots["LATE"]["children"] is None
    assert (lots["OLD"]["state"], lots["OLD"]["days_left"]) == ("expired", -24)


def test_lines_that_are_not_read_are_named_and_end_with_1(shelf: Path):
    shelf.write_text(HEADER + LINES + "X,9999,prefilled,2,2027-01,,,,\n")
    result = ask(shelf)
    assert result.exit_code == 1
    words = " ".join(result.stdout.split())
    assert "4 lots" in words
    assert "Faults of the file (1 line set aside, not counted above)" in words
    assert "shelf.E021" in words
    answer = json.loads(ask(shelf, "--json").stdout)
    assert answer["set_aside"][0]["cells"]["lot"] == "X"


@pytest.mark.parametrize(
    ("content", "status", "said"),
    [
        (HEADER, 0, "No lot stands on this shelf."),
        ("", 1, "The shelf could not be read."),
        ("lot,cvx\nA,08\n", 1, "The shelf could not be read."),
    ],
)
def test_an_empty_shelf_is_not_one_that_could_not_be_read(
    shelf: Path, content: str, status: int, said: str
):
    shelf.write_text(content)
    result = ask(shelf)
    assert result.exit_code == status
    assert said in result.stdout


def test_a_roster_that_cannot_be_read_names_no_child_and_denies_none(shelf: Path):
    result = ask(shelf, "--roster", shelf)
    assert result.exit_code == 1
    assert "record.E102" in result.stderr
    assert "No child" not in result.stdout
    answer = json.loads(ask(shelf, "--roster", shelf, "--json").stdout)
    assert "record.E102" in [one["code"] for one in answer["errors"]]


@pytest.mark.parametrize(
    ("more", "named"),
    [
        (("--within", "-1"), "0<=x"),
        (("--within", "x"), "integer"),
        (("--at", "25:00"), "HH:MM"),
        (("--roster", "no-such-file"), "cannot be read"),
        (("--roster", "-", "--edition", "none"), "edition"),
    ],
)
def test_a_wrong_word_on_the_command_line_ends_with_2(shelf: Path, more, named: str):
    result = ask(shelf, *more)
    assert result.exit_code == 2
    assert named in result.output


@pytest.mark.parametrize("path", ["no-such.csv", "/"])
def test_a_shelf_that_is_not_there_ends_with_2(path: str):
    assert ask(path).exit_code == 2


@pytest.mark.parametrize(("hour", "state"), [("09:09", "opened"), ("09:10", "not to be used")])
def test_the_hour_decides_whether_an_open_vial_may_still_be_used(
    shelf: Path, hour: str, state: str
):
    line = "OPEN,10,multidose,2,2027-01,,Fridge A,2026-11-20T09:10,2026-11-24T09:10\n"
    shelf.write_text(HEADER + line)
    (one,) = json.loads(ask(shelf, "--at", hour, "--json").stdout)["lots"]
    assert one["state"] == state


def test_the_demo_s_shelf_is_whole():
    files = demo_files()
    result = ask(files["shelf"], "--roster", files["roster"])
    assert result.exit_code == 0
    assert "97 doses may be used" in result.stdout
