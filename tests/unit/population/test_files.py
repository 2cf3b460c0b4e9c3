"""Population files: their shapes, what they cannot use, and interrupted runs."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from traywise.errors import InputError
from traywise.population import fault_codes
from traywise.population.forecast import forecast_file
from traywise.population.make import make_children, make_file
from traywise.schedule.compile import compiled

ON = date(2026, 11, 24)


def ignore(_: int) -> None:
    """A progress bar that nobody looks at."""


def answers_of(source: Path, target: Path) -> tuple[list[dict[str, Any]], Any]:
    remarks = forecast_file(source, target, "us-2025", ON, 1, ignore)
    return pq.read_table(target).to_pylist(), remarks


@pytest.fixture
def population(tmp_path: Path) -> Path:
    path = tmp_path / "in.parquet"
    pq.write_table(pa.Table.from_batches([make_children(0, 1_000, 5, ON)]), path)
    return path


def test_invented_children_have_the_shape_of_the_contract(tmp_path: Path) -> None:
    path = tmp_path / "made.parquet"
    make_file(300, path, 1, ON, 1, ignore)
    schema = pq.read_schema(path)

    assert schema.field("id").type == pa.string()
    assert schema.field("born").type == pa.date32()
    assert pa.types.is_dictionary(schema.field("sex").type)
    assert schema.field("gestation_weeks").type == pa.uint8()
    assert schema.field("dose_on").type.value_type == pa.date32()
    assert schema.field("dose_cvx").type.value_type == pa.uint16()
    assert pa.types.is_dictionary(schema.field("conditions").type.value_type)
    assert b"no real child" in schema.metadata[b"traywise.invented"]
    assert pq.read_metadata(path).num_rows == 300


def test_answers_have_the_shape_of_the_contract(population: Path, tmp_path: Path) -> None:
    rows, _ = answers_of(population, tmp_path / "out.parquet")
    schema = pq.read_schema(tmp_path / "out.parquet")

    for group in compiled("us-2025").edition.head.groups:
        assert pa.types.is_dictionary(schema.field(f"{group}_status").type)
        assert schema.field(f"{group}_next_dose").type == pa.uint8()
        for day in ("earliest", "due", "overdue"):
            assert schema.field(f"{group}_{day}").type == pa.date32()
    assert schema.metadata[b"traywise.edition"] == b"us-2025"
    assert schema.metadata[b"traywise.assess_on"] == b"2026-11-24"
    assert b"traywise.invented" in schema.metadata
    assert [row["id"] for row in rows] == pq.read_table(population)["id"].to_pylist()
    pq.read_table(tmp_path / "out.parquet").validate(full=True)


def test_a_run_broken_off_leaves_nothing_under_the_final_name_and_goes_on(
    tmp_path: Path,
) -> None:
    source, target, whole = (tmp_path / name for name in ("in.pq", "out.pq", "whole.pq"))
    table = pa.Table.from_batches([make_children(0, 900, 5, ON)])
    pq.write_table(table, source, row_group_size=300)

    def break_off(_: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        forecast_file(source, target, "us-2025", ON, 1, break_off)
    kept = {path.name: path.stat().st_mtime_ns for path in tmp_path.glob(".out.pq.parts/*.parquet")}
    assert not target.exists()
    assert kept

    done: list[int] = []
    unchanged: dict[str, int] = {}

    def look(rows: int) -> None:
        if not done:
            unchanged.update(
                {p.name: p.stat().st_mtime_ns for p in tmp_path.glob(".out.pq.parts/*.parquet")}
            )
        done.append(rows)

    forecast_file(source, target, "us-2025", ON, 1, look)
    assert unchanged == kept
    assert sum(done) == 900
    assert not (tmp_path / ".out.pq.parts").exists()
    forecast_file(source, whole, "us-2025", ON, 2, ignore)
    assert pq.read_table(target).equals(pq.read_table(whole))


def test_kept_parts_of_another_day_are_not_used(tmp_path: Path, population: Path) -> None:
    target, other = tmp_path / "out.pq", tmp_path / "other.pq"

    def break_off(_: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        forecast_file(population, target, "us-2025", date(2020, 1, 1), 1, break_off)
    forecast_file(population, target, "us-2025", ON, 1, ignore)
    forecast_file(population, other, "us-2025", ON, 1, ignore)

    assert pq.read_table(target).equals(pq.read_table(other))


def test_codes_may_be_numbers_text_or_dictionaries(tmp_path: Path) -> None:
    born, days = [date(2024, 1, 10)], [[date(2024, 3, 10), date(2025, 2, 1)]]
    answers = []
    for codes in (
        pa.array([[20, 3]], pa.list_(pa.uint16())),
        pa.array([["20", "03"]]),
        pa.array([["20", "3"]], pa.large_list(pa.string())),
        pa.ListArray.from_arrays([0, 2], pa.array(["20", "03"]).dictionary_encode()),
    ):
        table = pa.table({"id": ["a"], "born": born, "dose_on": days, "dose_cvx": codes})
        pq.write_table(table, tmp_path / "in.pq")
        rows, remarks = answers_of(tmp_path / "in.pq", tmp_path / "out.pq")
        answers.append(rows)
        assert remarks.lines() == []

    assert answers[0][0]["MMR_next_dose"] == 2
    assert all(rows == answers[0] for rows in answers)


def test_what_cannot_be_used_is_counted_and_never_guessed(tmp_path: Path) -> None:
    table = pa.table(
        {
            "id": ["no birth date", "far off", "odd doses"],
            "born": pa.array([None, date(1850, 1, 1), date(2024, 1, 10)]),
            "dose_on": pa.array([[], None, [None, date(2024, 3, 10), date(2024, 3, 10)]]),
            "dose_cvx": pa.array([[], None, [20, None, 250]], pa.list_(pa.uint16())),
            "conditions": pa.array([None, [], ["asplenia", "no-such-condition"]]),
        }
    )
    pq.write_table(table, tmp_path / "in.pq")
    rows, remarks = answers_of(tmp_path / "in.pq", tmp_path / "out.pq")

    assert remarks.without_birth_date == 2
    assert remarks.incomplete_doses == 2
    assert remarks.unknown_codes == {"250": 1}
    assert remarks.unknown_conditions == {"no-such-condition": 1}
    assert [row["DTaP_status"] for row in rows] == [None, None, "overdue"]
    assert [row["DTaP_next_dose"] for row in rows] == [None, None, 1]
    assert len(remarks.lines()) == 4


def test_conditions_bring_what_they_imply(tmp_path: Path) -> None:
    # conditions.toml: sickle cell disease implies asplenia, which asks for MenACWY at 2 years.
    table = pa.table(
        {
            "id": ["with", "without"],
            "born": [date(2021, 1, 10)] * 2,
            "conditions": [["sickle-cell"], []],
        }
    )
    pq.write_table(table, tmp_path / "in.pq")
    rows, _ = answers_of(tmp_path / "in.pq", tmp_path / "out.pq")

    assert rows[0]["MenACWY_status"] != rows[1]["MenACWY_status"]


@pytest.mark.parametrize(
    ("columns", "code"),
    [
        ({"born": [ON]}, "population.E010"),
        ({"id": ["a"]}, "population.E010"),
        ({"id": ["a"], "born": [ON], "dose_on": [[ON]]}, "population.E010"),
        ({"id": ["a"], "born": ["2024-01-10"]}, "population.E012"),
        ({"id": ["a"], "born": [ON], "dose_on": [ON], "dose_cvx": [[3]]}, "population.E012"),
        ({"id": ["a"], "born": [ON], "dose_on": [[ON]], "dose_cvx": [[3, 3]]}, "population.E013"),
    ],
)
def test_a_file_that_does_not_fit_is_refused(
    tmp_path: Path, columns: dict[str, Any], code: str
) -> None:
    pq.write_table(pa.table(columns), tmp_path / "in.pq")

    with pytest.raises(InputError) as caught:
        forecast_file(tmp_path / "in.pq", tmp_path / "out.pq", "us-2025", ON, 1, ignore)

    assert [fault.code for fault in caught.value.faults] == [code]
    assert not (tmp_path / "out.pq").exists()


def test_no_parquet_file_and_no_possible_day_are_refused(tmp_path: Path, population: Path) -> None:
    (tmp_path / "text.pq").write_text("id,born\n")
    target = tmp_path / "out.pq"

    with pytest.raises(InputError, match=r"population\.E001"):
        forecast_file(tmp_path / "text.pq", target, "us-2025", ON, 1, ignore)
    with pytest.raises(InputError, match=r"population\.E001"):
        forecast_file(tmp_path / "absent.pq", target, "us-2025", ON, 1, ignore)
    with pytest.raises(InputError, match=r"population\.E011"):
        forecast_file(population, target, "us-2025", date(2149, 1, 1), 1, ignore)


def test_an_empty_population_has_an_empty_answer(tmp_path: Path) -> None:
    make_file(0, tmp_path / "in.pq", 1, ON, 1, ignore)
    rows, remarks = answers_of(tmp_path / "in.pq", tmp_path / "out.pq")

    assert rows == []
    assert remarks.children == 0


def test_every_fault_code_in_use_is_explained() -> None:
    room = Path(fault_codes.__file__).parent
    used = {
        code
        for path in room.glob("*.py")
        if path.name != "fault_codes.py"
        for code in re.findall(r'"(population\.[EW]\d{3})"', path.read_text(encoding="utf-8"))
    }

    assert used == set(fault_codes.FAULTS)


def dated_file(path: Path, **columns: Any) -> Path:
    """Four children with a transplant; its days as the columns say."""
    days = pa.list_(pa.date32())
    table = {
        "id": ["known", "unknown", "ahead", "over"],
        "born": pa.array([date(2020, 1, 10)] * 4, pa.date32()),
        "conditions": [["haematopoietic-transplant"]] * 4,
        **{name: pa.array(values, days) for name, values in columns.items()},
    }
    pq.write_table(pa.table(table), path)
    return path


def test_the_days_of_conditions_count_in_a_population_file(tmp_path: Path) -> None:
    # ON is 24 November 2026: 6 months before it 24 May 2026.
    file = dated_file(
        tmp_path / "in.parquet",
        condition_from=[[date(2026, 5, 25)], [None], [date(2026, 11, 25)], [date(2026, 5, 24)]],
    )
    known, unknown, ahead, over = answers_of(file, tmp_path / "out.parquet")[0]
    assert (known["Hib_status"], known["Hib_due"]) == ("not yet", date(2026, 11, 25))
    assert (unknown["Hib_status"], unknown["Hib_due"]) == ("clinician decides", ON)
    assert ahead["Hib_status"] == "aged out"
    assert (over["Hib_status"], over["Hib_due"]) == ("due", ON)


def test_without_the_days_the_clinician_is_asked(tmp_path: Path) -> None:
    rows, _ = answers_of(dated_file(tmp_path / "in.parquet"), tmp_path / "out.parquet")
    assert {row["Hib_status"] for row in rows} == {"clinician decides"}


def test_days_that_are_not_one_a_condition_are_refused(tmp_path: Path) -> None:
    file = dated_file(tmp_path / "in.parquet", condition_until=[[], [None], [None], [None]])
    with pytest.raises(InputError) as caught:
        answers_of(file, tmp_path / "out.parquet")
    assert [fault.code for fault in caught.value.faults] == ["population.E013"]


def test_a_small_file_is_shared_among_the_workers_and_answered_alike(tmp_path: Path) -> None:
    source, alone, shared = (tmp_path / name for name in ("in.pq", "alone.pq", "shared.pq"))
    make_file(9_001, source, 3, ON, 1, ignore)
    parts: list[int] = []

    forecast_file(source, alone, "us-2025", ON, 1, ignore)
    forecast_file(source, shared, "us-2025", ON, 2, parts.append)

    assert len(parts) == 2
    assert sum(parts) == 9_001
    assert pq.read_table(shared).equals(pq.read_table(alone))
    pq.read_table(shared).validate(full=True)
