"""``traywise reach`` as other programs call it (contract.md)."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from traywise.cli import main


def run(*arguments: str):
    return CliRunner().invoke(main, ["reach", *arguments])


def test_json_has_the_shapes_of_the_contract():
    result = run("--site", "thigh", "--age-months", "4", "--length-mm", "16", "--json")
    answer = json.loads(result.output)
    assert result.exit_code == 0
    for name in ("short", "in_muscle", "bone_depth"):
        assert set(answer[name]) == {"low", "mid", "high"}
    assert answer["in_muscle"]["mid"] == pytest.approx(0.9757, abs=0.00005)
    assert answer["evidence"] == "measured"
    assert answer["studies"][0]["study"] == "Cook & Murtagh 2002"


def test_outside_the_data_there_is_no_number():
    answer = json.loads(
        run("--site", "deltoid", "--age-months", "60", "--length-mm", "25", "--json").output
    )
    assert answer["evidence"] == "none"
    assert not {"short", "in_muscle", "bone_depth"} & set(answer)


def test_text_carries_the_caution():
    result = run("--site", "thigh", "--age-months", "2", "--length-mm", "25")
    assert "94 of 100" in result.output
    assert "never replaces" in result.output


def test_a_bad_number_is_a_fault_not_a_traceback():
    result = run("--site", "thigh", "--age-months", "4", "--length-mm", "900")
    assert result.exit_code == 2
    assert "equipment.E105" in result.output


def test_plot_is_written_and_an_unwritable_place_is_said(tmp_path):
    picture = tmp_path / "reach.svg"
    asked = ("--site", "thigh", "--age-months", "4", "--length-mm", "25", "--plot")
    assert run(*asked, str(picture)).exit_code == 0
    assert picture.read_text(encoding="utf-8").startswith("<svg")
    assert run(*asked, str(tmp_path / "nowhere" / "x.svg")).exit_code == 2
