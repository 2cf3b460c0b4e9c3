"""A population file read as records gives the children that were written."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner

from traywise.cli import main
from traywise.demo.load import demo_files
from traywise.population.records import is_population, read_records


@pytest.fixture
def file(tmp_path: Path) -> Path:
    rows = {
        "id": ["a", "b", None],
        "born": [date(2026, 7, 12), date(2020, 1, 5), date(2021, 1, 1)],
        "sex": ["F", None, "M"],
        "gestation_weeks": [39, None, 40],
        "dose_on": [[date(2026, 7, 12), date(2026, 9, 14)], [], []],
        "dose_cvx": [["08", "110"], [], []],
        "conditions": [[], ["asplenia"], []],
    }
    path = tmp_path / "children.parquet"
    pq.write_table(pa.table(rows), path)
    return path


def test_children_come_back_as_written(file: Path) -> None:
    assert is_population(file)
    result = read_records(file)
    first, second = result.children
    assert [(dose.on, dose.cvx) for dose in first.doses] == [
        (date(2026, 7, 12), "08"),
        (date(2026, 9, 14), "110"),
    ]
    assert (first.sex, first.gestation_weeks) == ("F", 39)
    assert second.sex is None
    assert [condition.key for condition in second.conditions] == ["asplenia"]


def test_a_row_without_id_is_set_aside_and_named(file: Path) -> None:
    (fault,) = read_records(file).all_faults
    assert fault.at == "children.parquet, row 3"
    assert fault.is_error


def test_codes_written_as_numbers_get_their_leading_zero(tmp_path: Path) -> None:
    path = tmp_path / "numbers.parquet"
    codes = pa.array([[8]], pa.list_(pa.uint16()))
    days = pa.array([[date(2026, 7, 12)]], pa.list_(pa.date32()))
    born = pa.array([date(2026, 7, 12)], pa.date32())
    pq.write_table(pa.table({"id": ["a"], "born": born, "dose_on": days, "dose_cvx": codes}), path)
    assert read_records(path).children[0].doses[0].cvx == "08"


def test_needles_are_foreseen_from_a_population_file(file: Path) -> None:
    shelf = str(demo_files()["shelf"])
    arguments = ["needles", str(file), "--shelf", shelf, "--from", "2026-11-24", "--days", "30"]
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 1  # the row without id was set aside; the others are foreseen
    assert "needle 25 G × 25 mm" in result.stdout


def test_the_days_of_conditions_are_read_where_the_file_has_them(tmp_path: Path) -> None:
    path = tmp_path / "dated.parquet"
    days = pa.list_(pa.date32())
    table = pa.table(
        {
            "id": ["a"],
            "born": pa.array([date(2020, 1, 10)], pa.date32()),
            "conditions": [["asplenia", "haematopoietic-transplant"]],
            "condition_from": pa.array([[None, date(2023, 1, 5)]], days),
        }
    )
    pq.write_table(table, path)
    asplenia, transplant = read_records(path).children[0].conditions
    assert (asplenia.since, asplenia.until) == (None, None)
    assert (transplant.since, transplant.until) == (date(2023, 1, 5), None)


def test_antibody_products_and_times_of_day_come_along(tmp_path: Path) -> None:
    path = tmp_path / "products.parquet"
    rows = {
        "id": ["a"],
        "born": pa.array([date(2025, 7, 12)]).cast(pa.timestamp("ms")),
        "product_on": [[date(2026, 3, 1)]],
        "product_kind": [["hbig"]],
    }
    pq.write_table(pa.table(rows), path)
    (child,) = read_records(path).children
    assert child.born == date(2025, 7, 12)
    assert not isinstance(child.born, datetime)
    assert [(one.on, one.kind) for one in child.products] == [(date(2026, 3, 1), "hbig")]


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"dose_on": [[date(2026, 9, 14)]], "dose_cvx": [["08", "110"]]}, "population.E013"),
        ({"conditions": [["hiv", "asplenia"]], "condition_from": [[None]]}, "population.E013"),
        ({"born": ["12 July"]}, "population.E012"),
        ({"dose_on": [["soon"]], "dose_cvx": [["08"]]}, "population.E012"),
    ],
)
def test_a_row_that_cannot_be_used_is_a_fault_not_a_crash(
    tmp_path: Path, changed: dict[str, list[Any]], code: str
) -> None:
    path = tmp_path / "strange.parquet"
    rows: dict[str, list[Any]] = {"id": ["a"], "born": [date(2026, 7, 12)]}
    pq.write_table(pa.table(rows | changed), path)
    (fault,) = read_records(path).all_faults
    assert (fault.code, fault.at) == (code, "strange.parquet, row 1")
