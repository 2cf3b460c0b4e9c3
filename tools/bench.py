"""Measures Traywise on this machine: ``make bench``, or ``python tools/bench.py NAME ...``.

    --full   10^7 children, and 200 000 for the comparison of both gaits (some minutes)
    --json   one JSON object instead of tables
    --list   the names

A measurement is a function that takes ``full`` and returns rows of one shape; to add one, put
it into BENCHES. Compare figures within one run only: machines and neighbours differ.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tools import bench_population, bench_start

Rows = list[dict[str, Any]]


def session_quality(full: bool) -> Rows:
    """A hundred sessions planned as a whole against child by child."""
    from tools.bench_session import quality

    return [quality(100)]


def session_speed(full: bool) -> Rows:
    """One session of 200 children and 120 lots: to a sensible plan, and to the proven optimum."""
    from tools.bench_session import speed

    return [speed()]


def workbench(full: bool) -> Rows:
    """Fifty people at once on the day and the tray, a clinic of 20 000 children."""
    from tools.bench_workbench import fifty_people

    return fifty_people(full)


def kills(full: bool) -> Rows:
    """kill -9 in the middle of an entry: every confirmed entry is there once, on both databases."""
    from tools.bench_workbench import killed

    return killed(200 if full else 20)


BENCHES: dict[str, Callable[[bool], Rows]] = {
    "one-child": bench_start.one_child,
    "commands": bench_start.commands,
    "stages": bench_population.stages,
    "files": bench_population.files,
    "linear": bench_population.linear,
    "gaits": bench_population.gaits,
    "session": session_quality,
    "session-speed": session_speed,
    "workbench": workbench,
    "kills": kills,
}


def table_of(rows: Rows) -> str:
    """Rows as a text table."""
    names = list(rows[0])
    cells = [names, *([str(row[name]) for name in names] for row in rows)]
    widths = [max(len(line[place]) for line in cells) for place in range(len(names))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        for line in cells
    )


def main() -> int:
    parser = argparse.ArgumentParser(description="Measure Traywise on this machine.")
    parser.add_argument("names", nargs="*", choices=[[], *BENCHES], metavar="NAME")
    parser.add_argument("--full", action="store_true")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--list", action="store_true")
    given = parser.parse_args()
    if given.list:
        print("\n".join(f"{name:12}{work.__doc__}" for name, work in BENCHES.items()))
        return 0
    found: dict[str, Any] = {
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, Python {sys.version.split()[0]}"
    }
    if not given.json:
        print(found["machine"])
    for name in given.names or BENCHES:
        rows = BENCHES[name](given.full)
        found[name] = rows
        if not given.json:
            print(f"\n{name}: {BENCHES[name].__doc__}\n{table_of(rows)}", flush=True)
    if given.json:
        print(json.dumps(found, indent=2))
    return 0


if __name__ == "__main__":
    sys.exit(main())
