"""``traywise needles``: table, JSON, picture and refusals."""

from __future__ import annotations

import json
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from traywise.cli import main

USE = (
    "visit,item,gauge,length_mm,volume_ml,count,route\n"
    "a,needle,25,25,,2,IM\na,syringe,,,1,2,\na,wipe,,,,2,\n"
    "b,needle,25,16,,1,SC\nb,wipe,,,,1,\n"
)
STOCK = (
    "item,gauge,length_mm,volume_ml,count,expires,box\n"
    "needle,25,25,,10,,100\nneedle,25,16,,50,2020-01,\n"
)


@pytest.fixture
def files(tmp_path):
    (tmp_path / "use.csv").write_text(USE, encoding="utf-8")
    (tmp_path / "stock.csv").write_text(STOCK, encoding="utf-8")
    return tmp_path


def run(*arguments: str):
    return CliRunner().invoke(main, ["needles", *arguments])


def test_json_gives_ranges_orders_and_routes(files):
    asked = (str(files / "use.csv"), "--supplies", str(files / "stock.csv"), "--sessions", "20")
    result = run(*asked, "--no-show", "0.1", "--walk-ins", "1", "--from", "2026-01-05", "--json")
    answer = json.loads(result.stdout)
    assert result.exit_code == 0
    assert [one["code"] for one in answer["warnings"]] == ["supplies.W013"]
    by_kind = {(line["item"], line["length_mm"]): line for line in answer["lines"]}
    long = by_kind["needle", 25]
    assert long["expected"] == pytest.approx(20 * (0.9 * 2 + 1 * 2 / 2))
    assert long["low"] <= long["expected"] <= long["high"]
    assert (long["order"], long["boxes"]) == (100, 1)
    assert long["by_route"] == {"IM": pytest.approx(56)}
    assert by_kind["needle", 16]["expired"] == 50
    assert all(line["service"] >= 0.95 for line in answer["lines"])
    assert answer["lines"][-1]["item"] == "sharps-container"


def test_text_names_its_assumptions_and_caution(files):
    result = run(str(files / "use.csv"), "--sessions", "4")
    assert "no-shows 0 of 100" in result.output
    assert "needle 25 G × 25 mm" in result.output
    assert "stays the table's" in result.output


def test_picture_has_a_row_for_every_kind(files):
    picture = files / "n.svg"
    assert run(str(files / "use.csv"), "--plot", str(picture)).exit_code == 0
    words = [n.text for n in ElementTree.parse(picture).iter("{http://www.w3.org/2000/svg}text")]  # noqa: S314
    for row in ("needle 25 G × 16 mm (5/8 in)", "syringe 1 mL", "wipe", "sharps-container"):
        assert row in words


def test_one_bad_line_is_named_and_the_rest_answered(files):
    (files / "use.csv").write_text(USE + "c,nedle,25,25,,1,\n", encoding="utf-8")
    result = run(str(files / "use.csv"), "--json")
    assert result.exit_code == 1
    assert "supplies.E003" in result.output


@pytest.mark.parametrize(
    "arguments",
    [("--no-show", "1.5"), ("--service", "1"), ("--sessions", "0"), ("--walk-ins", "-1")],
)
def test_impossible_figures_are_refused_without_a_traceback(files, arguments):
    result = run(str(files / "use.csv"), *arguments)
    assert result.exit_code == 2
    assert "Traceback" not in result.output


def test_a_missing_file_is_refused(files):
    assert run(str(files / "nowhere.csv")).exit_code == 2


def test_without_supplies_the_stock_is_unknown_and_not_zero(files):
    use = str(files / "use.csv")
    assert "not known" in run(use).output
    assert json.loads(run(use, "--json").output)["lines"][0]["in_stock"] is None
    assert "not known" not in run(use, "--supplies", str(files / "stock.csv")).output


@pytest.mark.parametrize(
    ("stock", "code"), [("item\nneedle\n", "supplies.E002"), ("item\n", "supplies.E002")]
)
def test_a_stock_without_its_columns_is_told_even_when_it_has_no_lines(files, stock, code):
    (files / "stock.csv").write_text(stock, encoding="utf-8")
    result = run(str(files / "use.csv"), "--supplies", str(files / "stock.csv"))
    assert result.exit_code == 1
    assert code in result.stderr


def test_a_file_in_utf_16_as_some_shells_write_it_is_read(files):
    (files / "use.csv").write_bytes(USE.encode("utf-16"))
    assert run(str(files / "use.csv")).exit_code == 0


def test_json_nested_without_end_and_days_of_none_are_refused(files):
    (files / "deep.json").write_text('{"a":' * 5000, encoding="utf-8")
    assert "needles.E201" in run(str(files / "deep.json")).stderr
    assert run(str(files / "use.csv"), "--days", "0").exit_code == 2


def test_the_order_says_what_it_holds_for_spoilt_pieces(files):
    """National training text on wastage: a tenth more than is used."""
    said = "order: 10 of 100 more needles and syringes than used, for spoilt ones"
    picture = files / "n.svg"
    result = run(str(files / "use.csv"), "--plot", str(picture))
    assert said in result.output
    assert said in picture.read_text(encoding="utf-8")


@pytest.mark.parametrize("known", [True, False])
def test_the_picture_draws_no_stock_that_nobody_counted(files, known):
    picture = files / "n.svg"
    stock = ("--supplies", str(files / "stock.csv")) if known else ()
    assert run(str(files / "use.csv"), *stock, "--plot", str(picture)).exit_code == 0
    svg = picture.read_text(encoding="utf-8")
    assert ("stock not known" in svg) == (not known)
    assert ("stock 10" in svg) == known
    assert "Supplies for 1 session from" in svg


def test_needles_for_ampoules_are_forecast_too(files):
    use = "visit,item,gauge,length_mm,volume_ml,count,route\na,filter-needle,,,,1,\n"
    (files / "use.csv").write_text(use, encoding="utf-8")
    result = run(str(files / "use.csv"), "--sessions", "10", "--json")
    lines = {line["item"]: line for line in json.loads(result.output)["lines"]}
    assert lines["filter-needle"]["expected"] == pytest.approx(10)


def test_it_says_when_each_runs_out_and_what_expires_before_use(files):
    (files / "stock.csv").write_text(
        "item,gauge,length_mm,volume_ml,count,expires\n"
        "needle,25,25,,10,\nneedle,25,16,,50,2020-01\nwipe,,,,90,2026-01-12\nsyringe,,,1,90,\n"
    )
    asked = (str(files / "use.csv"), "--supplies", str(files / "stock.csv"), "--sessions", "6")
    text = run(*asked, "--from", "2026-01-05").stdout
    words = " ".join(text.split())
    # Two needles a visit and a tenth spoilt: nine of ten serve, the fifth session lacks one.
    assert "needle 25 G × 25 mm (1 in) 2026-02-02" in words
    assert "needle 25 G × 16 mm (5/8 in) 2026-01-05" in words
    assert "syringe 1 mL not within the horizon" in words
    assert "wipe 2026-01-12 about 84 of 90 left unused" in words
    assert "2020-01-31 all 50 expired: take out" in words
    assert max(map(len, text.splitlines())) <= 100
    lines = {
        (one["item"], one["length_mm"]): one
        for one in json.loads(run(*asked, "--from", "2026-01-05", "--json").stdout)["lines"]
    }
    assert lines["needle", 25]["runs_out"] == dict.fromkeys(("low", "mid", "high"), "2026-02-02")
    assert lines["syringe", None]["runs_out"] == dict.fromkeys(("low", "mid", "high"))
    assert lines["wipe", None]["lots"] == [
        {"expires": "2026-01-12", "count": 90, "unused": 84, "expired": False}
    ]


def test_nobody_knows_when_a_stock_that_was_not_counted_runs_out(files):
    use = str(files / "use.csv")
    assert "Runs out" not in run(use).stdout
    assert {one["runs_out"] for one in json.loads(run(use, "--json").stdout)["lines"]} == {None}


def test_visits_without_an_injection_are_visits_too(files):
    tray = {"tray": [{"route": "PO", "needle": None}], "supplies": []}
    (files / "day.json").write_text(json.dumps(tray))
    result = run(str(files / "day.json"))
    assert result.exit_code == 0, result.output
    assert "1 visit a session expected" in result.stdout
