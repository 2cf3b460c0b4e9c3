"""``traywise editions``: list, show, compare, check, as text and as JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from traywise.cli import main
from traywise.rulebook.edition import overlay_names


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["editions", *words])


def test_list_names_every_edition_and_overlay_and_what_is_out_of_date():
    shown = run("list", "--on", "2026-01-02").output
    for name in ("us-2025", "who", *overlay_names()):
        assert name in shown
    before, _, after = " ".join(shown.split()).partition(" who Recommended ")
    assert "published more than a year ago" in before
    assert "published more than a year ago" not in after
    assert "federal court" in shown


def test_list_as_json_holds_the_same():
    data = json.loads(run("list", "--on", "2026-01-02", "--json").output)
    by_key = {edition["key"]: edition for edition in data}
    assert by_key["us-2025"]["out_of_date"] is True
    assert by_key["who"]["out_of_date"] is False
    assert "aap-2026" in {one["key"] for one in by_key["us-2025"]["overlays"]}


def test_show_gives_one_group_whatever_the_case_of_its_name():
    result = run("show", "us-2025+aap-2026", "hpv")
    assert result.exit_code == 0
    assert "HPV-1; set by an overlay" in result.output
    rows = json.loads(run("show", "us-2025", "HPV", "--json").output)["rows"]
    assert {"key", "dose", "minimum_age", "conditions", "source"} <= set(rows[0])


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("show", "us-2025", "Smallpox"), "MenACWY"),
        (("show", "us-1066", "HPV"), "us-2025"),
        (("compare", "us-2025", "who", "Smallpox"), "MenACWY"),
    ],
)
def test_a_wrong_name_ends_with_2_and_lists_the_right_ones(words: tuple[str, ...], named: str):
    result = run(*words)
    assert result.exit_code == 2
    assert named in result.output


def test_compare_says_what_changed_with_the_warning():
    result = run("compare", "us-2025", "cdc-2026-01", "HPV")
    assert "only in the second: dose 1" in result.output
    assert "federal court" in result.output
    data = json.loads(run("compare", "us-2025", "cdc-2026-01", "HPV", "--json").output)
    assert {change["group"] for change in data["changes"]} == {"HPV"}
    assert len(data["warnings"]) == 2


def test_check_ends_with_0_or_1_and_tells_every_fault(tmp_path: Path):
    path = tmp_path / "clinic.toml"
    path.write_text(
        '[overlay]\nkey = "clinic"\ntitle = "t"\npublisher = "p"\npublished = "2026"\n'
        'on = ["us-2025"]\n\n[[change]]\ngroup = "HPV"\nrow = "HPV-1"\n'
        'recommended_age = "9 years"\n',
        encoding="utf-8",
    )
    assert run("check", str(path)).exit_code == 0
    text = path.read_text("utf-8")
    path.write_text(text.replace("9 years", "nine") + '\n[[remove]]\ngroup = "HPV"\nrow = "no"\n')
    result = run("check", str(path), "--json")
    assert result.exit_code == 1
    assert {fault["code"] for fault in json.loads(result.output)["faults"]} == {
        "rulebook.E012",
        "rulebook.E023",
    }


def test_check_of_something_else_says_so(tmp_path: Path):
    path = tmp_path / "notes.toml"
    path.write_text('title = "notes"\n', encoding="utf-8")
    result = run("check", str(path))
    assert result.exit_code == 1
    assert "neither an overlay nor" in result.output
