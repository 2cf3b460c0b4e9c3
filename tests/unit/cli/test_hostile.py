"""What tired people and broken machines do to the commands: told in words, no traceback."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from traywise.cli import main
from traywise.demo.load import demo_files

CHILD = {"id": "a1", "born": "2026-07-12", "weight_kg": 6.4, "doses": []}
ON = ("--on", "2026-11-24")
TRAYWISE = (sys.executable, "-c", "from traywise.cli import main; main()")


def run(*arguments: object, text: str | None = None) -> Result:
    return CliRunner().invoke(main, [str(one) for one in arguments], input=text)


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    """A clinic's folder: one child, its shelf, its supplies."""
    (tmp_path / "child.json").write_text(json.dumps(CHILD))
    for name in ("shelf", "supplies"):
        (tmp_path / f"{name}.csv").write_bytes(demo_files()[name].read_bytes())
    return tmp_path


def tray(clinic: Path, *more: object) -> Result:
    return run("tray", clinic / "child.json", "--shelf", clinic / "shelf.csv", *ON, *more)


def session(clinic: Path, *more: object) -> Result:
    return run("session", clinic / "child.json", "--shelf", clinic / "shelf.csv", *ON, *more)


@pytest.mark.parametrize(
    "name", ["us-2025+no-such", "us-2025+/etc/passwd", "us-2025+", "us-2025+who", "x" * 5000]
)
def test_an_edition_or_overlay_that_is_not_there_is_never_passed_over(clinic: Path, name: str):
    # Twice, because what is kept from the first run must not answer the second.
    run("forecast", clinic / "child.json", *ON)
    result = run("forecast", clinic / "child.json", "--edition", name, *ON)
    assert result.exit_code == 2
    assert "There is no" in result.output
    assert "{" not in result.stdout


@pytest.mark.parametrize(
    ("more", "named"),
    [
        (("--needle-policy", "none-such"), "acip-2024"),
        (("--ask-for", "Smallpox"), "MenB"),
        (("--on", "2151-01-01"), "2110"),
        (("--on", "9999-12-31"), "2110"),
        (("--on", "0001-01-01"), "1902"),
        (("--on", "2026-02-30"), "YYYY-MM-DD"),
        (("--supplies", "/no/such"), "no such file"),
        (("--shelf", "/"), "folder"),
    ],
)
def test_a_wrong_word_on_the_command_line_ends_with_2_and_the_remedy(
    clinic: Path, more: tuple[str, ...], named: str
):
    for command in (tray, session):
        result = command(clinic, *more)
        assert result.exit_code == 2, result.output
        assert named in result.output


def test_a_group_asked_for_is_found_in_either_case(clinic: Path):
    assert tray(clinic, "--ask-for", "menb").exit_code == 0


@pytest.mark.parametrize(
    ("more", "named"),
    [
        (("--from", "8"), "HH:MM"),
        (("--from", "08:00+05:00"), "HH:MM"),
        (("--from", "12:00", "--to", "08:00"), "before it begins"),
        (("--from", "12:00", "--to", "12:00"), "before it begins"),
        (("--vaccinators", "9" * 20), "1000"),
        (("--seconds", "0"), "--seconds"),
        (("--seconds", "nan"), "digits"),
        (("--what-if", "vaccinators=x"), "whole number"),
        (("--what-if", "vaccinators=" + "9" * 20), "whole number"),
        (("--what-if", "day=9999-01-01"), "2110"),
    ],
)
def test_a_session_cannot_be_asked_for_the_impossible(
    clinic: Path, more: tuple[str, ...], named: str
):
    result = session(clinic, *more)
    assert result.exit_code == 2, result.output
    assert named in result.output


@pytest.mark.parametrize("target", ["no/such/folder/tray.pdf", "/dev/full"])
def test_a_sheet_that_cannot_be_written_is_told(clinic: Path, target: str):
    result = tray(clinic, "--pdf", target if target.startswith("/") else clinic / target)
    assert result.exit_code == 2
    assert "cannot be written" in result.output


def test_the_record_is_never_written_over(clinic: Path):
    result = tray(clinic, "--pdf", clinic / "child.json")
    assert result.exit_code == 2
    assert json.loads((clinic / "child.json").read_text()) == CHILD


def test_the_session_files_leave_the_clinic_s_own_in_the_same_folder(clinic: Path):
    before = {path.name: path.read_bytes() for path in clinic.iterdir()}
    result = session(clinic, "--supplies", clinic / "supplies.csv", "--csv", clinic)
    assert result.exit_code == 0, result.output
    assert {name: (clinic / name).read_bytes() for name in before} == before
    (clinic / "trays.csv").write_bytes((clinic / "shelf.csv").read_bytes())
    result = run(
        *("session", clinic / "child.json", "--shelf", clinic / "trays.csv", *ON, "--csv", clinic)
    )
    assert result.exit_code == 2
    assert (clinic / "trays.csv").read_bytes() == before["shelf.csv"]


def test_the_demo_leaves_a_clinic_s_files(clinic: Path):
    (clinic / "shelf.csv").write_text("ours")
    assert run("demo", clinic).exit_code == 0
    assert (clinic / "shelf.csv").read_text() == "ours"
    assert (clinic / "demo-shelf.csv").is_file()


@pytest.mark.parametrize(
    ("command", "more"), [("forecast", ()), ("tray", ("--json",)), ("tray", ()), ("session", ())]
)
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a disk that is full: /dev/full")
def test_a_full_disk_is_told(clinic: Path, command: str, more: tuple[str, ...]):
    shelf = () if command == "forecast" else ("--shelf", str(clinic / "shelf.csv"))
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*TRAYWISE, command, str(clinic / "child.json"), *shelf, *ON, *more],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "No space" in done.stderr


@pytest.mark.parametrize("encoding", ["cp1252", "latin-1", "ascii", "utf-8"])
def test_a_terminal_without_our_signs_still_shows_the_rest(clinic: Path, encoding: str):
    done = subprocess.run(
        [*TRAYWISE, "tray", str(clinic / "child.json"), "--shelf", str(clinic / "shelf.csv"), *ON],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": encoding},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert b"4 months 12 days" in done.stdout


@pytest.mark.skipif(os.name != "posix", reason="streams are closed by a POSIX shell")
@pytest.mark.parametrize("closing", [">&-", "<&-", ">&- 2>&-"])
def test_closed_streams_bring_no_traceback(clinic: Path, closing: str):
    file = "-" if closing.startswith("<") else str(clinic / "child.json")
    words = " ".join(f"'{word}'" for word in (*TRAYWISE, "forecast", file, *ON))
    done = subprocess.run(
        ["/bin/sh", "-c", f"{words} {closing}"], capture_output=True, text=True, check=False
    )
    assert "Traceback" not in done.stderr
    assert done.returncode == (2 if closing.startswith("<") else 0)


@pytest.mark.parametrize("day", ["2110-12-31", "2111-01-01", "2150-01-01", "1901-12-31"])
def test_a_birth_far_off_is_answered_or_told(day: str):
    child = json.dumps({**CHILD, "born": day, "assess_on": day})
    result = run("forecast", "-", text=child)
    answer = json.loads(result.stdout)
    if day == "2110-12-31":
        assert answer["groups"]["HepB"]["status"] == "due"
    else:
        (fault,) = [one for one in answer["errors"] if one["at"].endswith("born")]
        assert "1902 and 2110" in fault["text"]


def test_an_empty_list_is_no_answer():
    result = run("forecast", "-", text="[]")
    assert result.exit_code == 1
    assert "record.E005" in result.stderr


def test_a_number_beyond_python_s_own_limit_is_told_in_our_words():
    result = run("forecast", "-", text=json.dumps(CHILD)[:-1] + ', "x": ' + "9" * 5000 + "}")
    (fault,) = json.loads(result.stdout)["errors"]
    assert "5000 digits" in fault["text"]
    assert "sys." not in fault["text"]


@pytest.mark.parametrize(
    ("more", "named"),
    [
        (("--product", "MR:0"), "1 to 1000"),
        (("--product", "MR:" + "9" * 20), "1 to 1000"),
        (("--product", "MR:10:2"), "between 0 and 1"),
        (("--product", "MR:10:nan"), "between 0 and 1"),
        (("--product", "MR:10", "--product", "MR:5"), "twice"),
        (("--product", "MR:10", "--attendance", "nan"), "digits"),
        (("--product", "MR:10", "--posts", "100000000"), "1000"),
    ],
)
def test_a_mass_day_of_impossible_figures_is_refused(more: tuple[str, ...], named: str):
    result = run("mass-day", "--children", "100", *more)
    assert result.exit_code == 2
    assert named in result.output


def test_a_population_is_never_written_over_with_its_answers(tmp_path: Path):
    pytest.importorskip("pyarrow")
    children = tmp_path / "children.parquet"
    assert run("population", "make", "3", children, *ON).exit_code == 0
    before = children.read_bytes()
    for command in (("forecast", children, children), ("forecast-many", children, tmp_path)):
        result = run("population", *command, *ON)
        assert result.exit_code == 2
        assert "population.E023" in result.output
    assert children.read_bytes() == before
    for target, named in (("/dev/null", "ordinary file"), ("-", "standard output")):
        for command in (("make", "3", target), ("forecast", children, target)):
            result = run("population", *command, *ON)
            assert result.exit_code == 2
            assert "population.E022" in result.output
            assert named in result.output
    assert not Path("-").exists()


TABLE = "id,born,vaccine,date\n1,03/04/2024,08,03/04/2024\n2,03/04/2024,Hepatits B,04/04/2024\n"


def test_an_open_date_order_can_be_settled_where_it_is_asked_for(clinic: Path):
    (clinic / "doses.csv").write_text(TABLE.rsplit("2,", 1)[0])
    for command in (("forecast",), ("tray", "--shelf", clinic / "shelf.csv")):
        name, *more = command
        asked = (name, clinic / "doses.csv", *more, *ON)
        assert "dmy or mdy" in run(*asked).output
        assert "2024-04-03" in run(*asked, "--date-order", "dmy").output


def test_in_words_who_is_not_answered_and_how_many(clinic: Path):
    (clinic / "doses.csv").write_text(TABLE)
    result = run("forecast", clinic / "doses.csv", "--date-order", "dmy", "--text", *ON)
    assert result.exit_code == 1
    assert "Not answered: id 2, doses.csv, line 3" in result.stdout
    assert "write 45" in result.stdout
    assert "1 of 2" in result.stderr


def test_a_child_not_yet_born_does_not_stop_the_session(clinic: Path):
    unborn = {"id": "late", "born": "2027-02-01", "assess_on": "2027-03-01"}
    (clinic / "roster.jsonl").write_text(f"{json.dumps(CHILD)}\n{json.dumps(unborn)}")
    asked = ("session", clinic / "roster.jsonl", "--shelf", clinic / "shelf.csv", *ON, "--json")
    result = run(*asked)
    assert result.exit_code == 1
    assert [child["id"] for child in json.loads(result.stdout)["children"]] == ["a1"]
    assert "record.E040" in result.stderr
    assert "record.E040" in run(*asked, "--what-if", f"walk-ins={clinic / 'roster.jsonl'}").stderr


def test_open_questions_on_the_board_hide_no_group_that_goes_unserved(clinic: Path):
    shelf = (clinic / "shelf.csv").read_text().splitlines()
    (clinic / "shelf.csv").write_text("\n".join([shelf[0], *(x for x in shelf if ",08," in x)]))
    board = " ".join(session(clinic).stdout.split())
    assert "open, then ready to lay, without" in board
    for group in ("DTaP", "IPV", "Hib", "PCV"):
        assert group in board.partition("without")[2].partition("HepB")[0]
