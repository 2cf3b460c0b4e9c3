"""Measures one child: the answer in plain Python, and whole commands from start to end."""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from tools.bench_population import EDITION, ON
from tools.compare_gaits import child_of, stirred_children

from traywise.schedule.assess import assess

Row = dict[str, Any]

HEAVY = ("numba", "numpy", "pyarrow", "django", "dask")

_SHELF = """lot,cvx,mvx,presentation,doses,expires,funding,unit,opened_at,discard_at,cost
A1,146,,prefilled,10,2028-01-31,public,fridge,,,
A2,216,,prefilled,10,2028-01-31,public,fridge,,,
A3,116,,oral,10,2028-01-31,public,fridge,,,
"""


def one_child(_: bool) -> list[Row]:
    """The whole answer for one child in plain Python, reasons and sources included."""
    children = [child_of(row) for row in stirred_children(0, 400, 7)]
    assess(children[0], EDITION, ON)
    found = []
    for child in children:
        start = time.perf_counter()
        assess(child, EDITION, ON)
        found.append((time.perf_counter() - start) * 1000)
    return [
        {
            "children": len(children),
            "ms_median": round(statistics.median(found), 2),
            "ms_slowest_of_100": round(statistics.quantiles(found, n=100)[-1], 2),
        }
    ]


def commands(_: bool) -> list[Row]:
    """Whole processes, best of five, and which heavy libraries they load (none is right)."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        record = {"id": "invented", "born": "2026-09-20", "weight_kg": 5.4, "doses": []}
        (folder / "child.json").write_text(json.dumps(record))
        (folder / "shelf.csv").write_text(_SHELF)
        child, shelf = str(folder / "child.json"), str(folder / "shelf.csv")
        return [
            _command("traywise forecast", ["forecast", child, "--on", "2026-11-24"]),
            _command("traywise tray", ["tray", child, "--shelf", shelf, "--on", "2026-11-24"]),
        ]


def _command(label: str, words: list[str]) -> Row:
    start_program = [sys.executable, "-c", "from traywise.cli import main; main()"]
    # Users keep compiled code between runs; a shell that forbids it would measure the compiling.
    env = {name: text for name, text in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    seconds = []
    for _ in range(5):
        start = time.perf_counter()
        run = subprocess.run(
            [*start_program, *words], capture_output=True, text=True, check=False, env=env
        )
        seconds.append(time.perf_counter() - start)
    if "No such command" in run.stderr or "ModuleNotFoundError" in run.stderr:
        return {"command": label, "seconds": None, "loads": "the command is not there"}
    traced = subprocess.run(
        [sys.executable, "-X", "importtime", *start_program[1:], *words],
        capture_output=True,
        text=True,
        check=False,
    )
    imported = {
        line.rpartition("|")[2].strip().partition(".")[0]
        for line in traced.stderr.splitlines()
        if line.startswith("import time:")
    }
    loaded = sorted(imported & set(HEAVY))
    return {
        "command": label,
        "exit": run.returncode,
        "seconds": round(min(seconds), 3),
        "loads": ", ".join(loaded) or f"none of {', '.join(HEAVY)}",
    }
