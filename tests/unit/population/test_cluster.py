"""Several files at once give what each gives alone; one bad file stops no other."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner

from traywise.cli import main
from traywise.errors import InputError
from traywise.population.cluster import forecast_many
from traywise.population.forecast import forecast_file
from traywise.population.make import make_children

ON = date(2026, 11, 24)


@pytest.mark.slow
def test_each_file_is_answered_and_a_bad_one_is_named(tmp_path: Path) -> None:
    for number in (0, 1):
        table = pa.Table.from_batches([make_children(number, 200, 3, ON)])
        pq.write_table(table, tmp_path / f"{number}.pq")
    (tmp_path / "bad.pq").write_text("no Parquet")
    words = [str(tmp_path / name) for name in ("0.pq", "bad.pq", "1.pq", "out")]

    result = CliRunner().invoke(main, ["population", "forecast-many", *words, "--on", str(ON)])

    assert result.exit_code == 2
    assert "bad.pq" in result.stderr
    assert "population.E001" in result.stderr
    for name in ("0.pq", "1.pq"):
        forecast_file(tmp_path / name, tmp_path / "alone.pq", "us-2025", ON, 1, lambda _: None)
        assert pq.read_table(tmp_path / "out" / name).equals(pq.read_table(tmp_path / "alone.pq"))


def test_two_files_of_one_name_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"population\.E020"):
        forecast_many(
            [tmp_path / "a" / "x.pq", tmp_path / "b" / "x.pq"], tmp_path / "out", "us-2025", ON
        )
