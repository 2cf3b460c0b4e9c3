"""Eight at once on one lot: nothing double, nothing negative, no chain broken; and kill -9."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.workbench_clinic import SETUP, Clinic, copy_of

WORKERS = 8
KILLS = int(os.environ.get("TRAYWISE_KILLS", "10"))
WORK = str(Path(__file__).with_name("workers.py"))
ROOT = Path(__file__).parent.parent.parent

COUNT = f"""{SETUP}
from traywise.workbench.audit.chain import find_break
from traywise.workbench.ledger.models import LedgerEntry
from traywise.workbench.shelf.models import Lot, StockEntry
from traywise.workbench.shelf.stock import sum_of_entries
lot = Lot.objects.get(lot="PK7718")
print(lot.doses_left, sum_of_entries(lot), LedgerEntry.objects.count(),
      StockEntry.objects.filter(lot=lot, reason="given").count(), find_break(LedgerEntry))
print(*LedgerEntry.objects.order_by("number").values_list("key", flat=True))
"""
ONLY_SO_MANY = """
from traywise.workbench.accounts.models import Staff
from traywise.workbench.shelf.models import Lot
from traywise.workbench.shelf.stock import count_again
count_again(Lot.objects.get(lot="PK7718"), {doses}, by=Staff.objects.first(), key="so-many")
"""


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def clinic(
    request: pytest.FixtureRequest,
    tmp_path: Path,
    ready_clinics: Callable[[str], tuple[Clinic, str]],
) -> Clinic:
    ready, database = ready_clinics(request.param)
    if database:
        database = request.getfixturevalue("postgres").new_database(like=database)
    return copy_of(ready, tmp_path / "home", database)


def stocked(clinic: Clinic, doses: int) -> Clinic:
    clinic.run(SETUP + ONLY_SO_MANY.format(doses=doses))
    return clinic


def start(clinic: Clinic, what: str, workers: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, WORK, what, str(workers)],
        env=clinic.env,
        cwd=ROOT,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )


def outcome(clinic: Clinic) -> tuple[list[int], str, list[str]]:
    figures, *rest = clinic.run(COUNT).splitlines()
    left, total, entries, given, broken = figures.split(maxsplit=4)
    keys = rest[0].split() if rest else []
    return [int(left), int(total), int(entries), int(given)], broken, keys


def run_all(clinic: Clinic, what: str) -> list[str]:
    group = start(clinic, what, WORKERS)
    out, err = group.communicate(timeout=120)
    assert group.returncode == 0, err[-2000:]
    return [line for line in out.split("\n") if line]


def test_the_last_doses_of_a_lot_go_to_as_many_as_there_are(clinic: Clinic) -> None:
    said = run_all(stocked(clinic, 13), "last doses")
    figures, broken, keys = outcome(clinic)
    assert figures == [0, 0, 13, 13]
    assert broken == "None"
    wrote = [line.split()[1] for line in said if line.startswith("wrote")]
    assert sorted(wrote) == sorted(keys)
    assert sum(line.startswith("refused") for line in said) == WORKERS * 10 - 13


def test_the_same_press_by_all_records_once(clinic: Clinic) -> None:
    said = run_all(stocked(clinic, 20), "one press")
    figures, broken, keys = outcome(clinic)
    assert figures == [15, 15, 5, 5]
    assert broken == "None"
    assert len(set(keys)) == 5
    assert sum(line.startswith("wrote") for line in said) == 5


def test_what_was_confirmed_before_kill_9_is_there_once(clinic: Clinic) -> None:
    stocked(clinic, 90_000)
    group = start(clinic, "until killed", KILLS)
    assert group.stdout is not None
    said: list[str] = []
    for turn in range(KILLS):
        pid = 0
        while not pid:
            line = group.stdout.readline()
            assert line, group.communicate()[1][-2000:]
            said.append(line)
            pid = int(line.split()[1]) if line.startswith("ready") else 0
        # Somewhere in the middle of an entry: never twice at the same moment of it.
        time.sleep(0.02 + 0.0037 * (turn % 11))
        os.kill(pid, signal.SIGKILL)
    out, err = group.communicate(timeout=60)
    assert group.returncode == 0, err[-2000:]
    # A line that the kill cut short was not confirmed.
    lines = "".join([*said, out]).split("\n")[:-1]
    confirmed = [line.split()[1] for line in lines if line.startswith("wrote kill-")]
    figures, broken, keys = outcome(clinic)
    left, total, entries, given = figures
    assert broken == "None"
    assert len({key.split("-")[1] for key in confirmed}) >= KILLS // 2
    assert len(keys) == len(set(keys))
    assert set(confirmed) <= set(keys)
    assert left == total == 90_000 - given
    assert entries == given
