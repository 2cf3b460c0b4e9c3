"""Joined Parquet files read like their parts one after the other."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from traywise.population.join import join_parquet

SCHEMA = pa.schema(
    {
        "id": pa.string(),
        "day": pa.date32(),
        "word": pa.dictionary(pa.int8(), pa.string()),
        "list": pa.list_(pa.field("element", pa.uint16())),
        "share": pa.float64(),
    },
    metadata={"note": "kept"},
)


def some_table(start: int, count: int) -> pa.Table:
    numbers = list(range(start, start + count))
    return pa.table(
        {
            "id": [f"child {number}" for number in numbers],
            "day": [date.fromordinal(700_000 + n) if n % 3 else None for n in numbers],
            "word": pa.array([("due", "complete")[n % 2] for n in numbers], SCHEMA.types[2]),
            "list": [[n] * (n % 4) for n in numbers],
            "share": [n / 7 for n in numbers],
        },
        schema=SCHEMA,
    )


@pytest.mark.parametrize("compression", ["none", "lz4", "snappy", "zstd"])
@pytest.mark.parametrize("statistics", [True, False])
@pytest.mark.parametrize("sizes", [[5], [5, 1, 700], [20] * 17, [3, 0, 4]])
def test_a_joined_file_equals_its_parts(
    tmp_path: Path, compression: str, statistics: bool, sizes: list[int]
) -> None:
    tables, parts = [], []
    for number, size in enumerate(sizes):
        table = some_table(sum(sizes[:number]), size)
        path = tmp_path / f"{number}.parquet"
        pq.write_table(
            table, path, compression=compression, write_statistics=statistics, row_group_size=400
        )
        tables.append(table)
        parts.append(path)
    whole = tmp_path / "whole.parquet"

    join_parquet(parts, whole)

    expected = pa.concat_tables(tables)
    found = pq.read_table(whole)
    assert found.to_pylist() == expected.to_pylist()
    assert found.schema.equals(expected.schema, check_metadata=True)
    assert pq.read_metadata(whole).num_rows == sum(sizes)


def test_a_part_that_is_cut_off_is_refused(tmp_path: Path) -> None:
    part = tmp_path / "part.parquet"
    pq.write_table(some_table(0, 50), part)
    part.write_bytes(part.read_bytes()[:-20])

    with pytest.raises(ValueError, match="no Parquet file"):
        join_parquet([part], tmp_path / "whole.parquet")
