"""Measures populations: children per second, linearity, peak memory, ratio to reading, stages."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq

from traywise.population.answer_columns import answer_schema, write_answers
from traywise.population.arrays import rules_of
from traywise.population.batches import (
    CHILDREN,
    EPOCH,
    read_children,
)
from traywise.population.forecast import forecast_file, write_batch
from traywise.population.kernel import answer
from traywise.population.make import make_children, make_file
from traywise.schedule.compile import compiled

ON = date(2026, 11, 24)
EDITION = "us-2025"

Row = dict[str, Any]


def best_of(times: int, work: Callable[[], object]) -> float:
    """Seconds of the quickest run: what the machine can do when nothing disturbs it."""
    found = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return min(found)


def read_columns(path: Path) -> None:
    """Read what a forecast reads, row group by row group, and drop it."""
    file = pq.ParquetFile(path)
    columns = [name for name in CHILDREN.names if name in file.schema_arrow.names]
    for group in range(file.num_row_groups):
        file.read_row_group(group, columns=columns)


def measure_file(source: str, target: str, workers: int, times: int) -> Row:
    """One forecast of a file in this process, warmed up: seconds and peak memory."""
    rules = rules_of(EDITION)
    warm, _ = read_children(make_children(0, 100, 1, ON), rules, compiled(EDITION), ON)
    answer(warm, rules, ON.toordinal() - EPOCH)

    def work() -> None:
        forecast_file(Path(source), Path(target), EDITION, ON, workers, lambda _: None)

    seconds = best_of(times, work)
    status = Path("/proc/self/status")
    peak = status.read_text().split("VmHWM:")[1].split()[0] if status.exists() else 0
    return {"seconds": seconds, "peak_mb": int(peak) // 1024}


def files(full: bool) -> list[Row]:
    """From Parquet to Parquet, by size and number of threads, beside reading the same columns.

    A file of one child shows what every file pays (opening, footers, waiting for the disk);
    ``us_beyond`` is the time per child beyond that, ``to_last`` its ratio to the largest file.
    """
    rows: list[Row] = []
    fixed: dict[int, float] = {}
    with tempfile.TemporaryDirectory() as folder:
        for count in (1, 10**4, 10**5, 10**6, *((10**7,) if full else ())):
            source, target = Path(folder) / "in.parquet", Path(folder) / "out.parquet"
            make_file(count, source, 1, ON, 2, lambda _: None)
            times = 9 if count < 10**6 else 3 if count < 10**7 else 1
            reading = best_of(times, lambda source=source: read_columns(source))  # type: ignore[misc]
            for workers in (1, 2):
                call = [sys.executable, __file__, str(source), str(target), str(workers)]
                run = subprocess.run(
                    [*call, str(times)], capture_output=True, text=True, check=True
                )
                found = json.loads(run.stdout)
                seconds = found["seconds"]
                fixed.setdefault(workers, seconds)
                rows.append(
                    {
                        "children": count,
                        "threads": workers,
                        "seconds": round(seconds, 4),
                        "children_per_s": round(count / seconds),
                        "us_per_child": round(seconds / count * 1e6, 2),
                        "us_beyond": round((seconds - fixed[workers]) / count * 1e6, 2),
                        "to_last": 1.0,
                        "to_reading": round(seconds / reading, 1),
                        "peak_mb": found["peak_mb"],
                    }
                )
    last = {row["threads"]: row["us_beyond"] for row in rows}
    for row in rows:
        row["to_last"] = round(row["us_beyond"] / last[row["threads"]], 2)
    return rows


def linear(_: bool) -> list[Row]:
    """Time by size on two threads, the sizes in turn, best of many: neighbours disturb all alike.

    ``us_beyond``: per child, without the time that a file of one child takes.
    """
    sizes = (1, 10**4, 10**5, 10**6)
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "out.parquet"
        sources = {count: Path(folder) / f"{count}.parquet" for count in sizes}
        for count, source in sources.items():
            make_file(count, source, 1, ON, 2, lambda _: None)
        seconds = dict.fromkeys(sizes, float("inf"))
        for _ in range(6):
            for count, source in sources.items():

                def work(source: Path = source) -> None:
                    forecast_file(source, target, EDITION, ON, 2, lambda _: None)

                best = best_of(1 if count == 10**6 else 5, work)
                seconds[count] = min(seconds[count], best)
    return [
        {
            "children": count,
            "seconds": round(found, 4),
            "children_per_s": round(count / found),
            "us_per_child": round(found / count * 1e6, 2),
            "us_beyond": round((found - seconds[1]) / count * 1e6, 2),
        }
        for count, found in seconds.items()
    ]


def stages(_: bool) -> list[Row]:
    """Where the time goes: microseconds of one core per child, and the rules on two cores."""
    count = 131_072
    batch, rules, source = make_children(0, count, 1, ON), rules_of(EDITION), compiled(EDITION)
    children, _remarks = read_children(batch, rules, source, ON)
    day = ON.toordinal() - EPOCH
    answers = answer(children, rules, day)
    schema = answer_schema(rules.groups, {})
    arrow = write_answers(batch, answers, schema)
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(2) as pool:
        path = Path(folder) / "part.parquet"
        pq.write_table(batch_table(batch), Path(folder) / "in.parquet")

        def two() -> None:
            for done in [pool.submit(answer, children, rules, day) for _ in range(2)]:
                done.result()

        steps: list[tuple[str, Callable[[], object], int]] = [
            ("read Parquet", lambda: read_columns(Path(folder) / "in.parquet"), 1),
            ("Arrow to arrays", lambda: read_children(batch, rules, source, ON), 1),
            ("rules, one core", lambda: answer(children, rules, day), 1),
            ("rules, two cores", two, 2),
            ("arrays to Arrow", lambda: write_answers(batch, answers, schema), 1),
            ("write Parquet", lambda: write_batch(path, arrow), 1),
        ]
        return [
            {
                "stage": name,
                "us_per_child": round(seconds / count / times * 1e6, 3),
                "children_per_s": round(count * times / seconds),
            }
            for name, work, times in steps
            for seconds in [best_of(5, work)]
        ]


def batch_table(batch: Any) -> Any:
    """A record batch as a table, for writing."""
    import pyarrow as pa

    return pa.Table.from_batches([batch])


def gaits(full: bool) -> list[Row]:
    """Both gaits on invented children, in fresh processes."""
    count = 200_000 if full else 20_000
    tool = Path(__file__).with_name("compare_gaits.py")
    run = subprocess.run(
        [sys.executable, str(tool), str(count)], capture_output=True, text=True, check=False
    )
    return [{"compared": (run.stdout or run.stderr).splitlines()[-1], "equal": run.returncode == 0}]


if __name__ == "__main__":
    source_path, target_path, workers_text, times_text = sys.argv[1:]
    print(json.dumps(measure_file(source_path, target_path, int(workers_text), int(times_text))))
