"""The same tests of this folder once more on PostgreSQL, in a process of their own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from tests.workbench_clinic import Postgres

HERE = Path(__file__).parent
FILES = (
    "test_ledger.py",
    "test_stock.py",
    "test_supplies.py",
    "test_condition_days.py",
    "test_roster.py",
    "test_giving.py",
    "test_second_factor.py",
    "test_hostile.py",
)

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.skipif(
        bool(os.environ.get("TRAYWISE_TEST_DATABASE")), reason="this is that process"
    ),
]


def test_models_and_pages_hold_on_postgresql(postgres: Postgres) -> None:
    address = postgres.new_database()
    # Django may read its settings before the conftest is loaded: both must say the same.
    env = {**os.environ, "TRAYWISE_TEST_DATABASE": address, "TRAYWISE_DATABASE": address}
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            "-n",
            "0",
            "-p",
            "no:cacheprovider",
            "--create-db",
            *(str(HERE / name) for name in FILES),
        ],
        env=env,
        cwd=HERE.parent.parent,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-6000:]
