"""Fifty people at once on the day's page and the tray page, with a clinic of 20 000 children.

Each person is a thread with a session of its own and one kept connection: it asks for the
day, its live board and a tray, waits a moment as people do, and asks again.
"""

from __future__ import annotations

import http.client
import os
import random
import re
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from statistics import median, quantiles
from typing import Any
from urllib.parse import urlencode, urlsplit

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from tests.workbench_clinic import Clinic, running  # noqa: E402

PEOPLE = 50
CHILDREN = 20_000
THINKING_SECONDS = (0.5, 1.5)  # between two pages; the board itself asks every 3 s
LOAD = f"""
from traywise.workbench import serving; serving.prepare()
from datetime import date, timedelta
import random
from traywise.workbench.demo.load import load_demo_clinic; load_demo_clinic()
from traywise.workbench.accounts.models import Staff
from traywise.workbench.children.models import ChildRecord
rng = random.Random(1)
day = date.today()
rows = []
for n in range({CHILDREN}):
    born = day - timedelta(days=rng.randrange(30, 6500))
    record = {{"id": f"many-{{n}}", "name": f"Invented Child {{n}}", "born": born.isoformat()}}
    record["doses"] = [{{"on": (born + timedelta(days=60 * (k + 1))).isoformat(), "cvx": "110"}}
                       for k in range(rng.randrange(4)) if born + timedelta(days=60*(k+1)) < day]
    rows.append(ChildRecord(record_id=record["id"], name=record["name"], born=born, record=record))
ChildRecord.objects.bulk_create(rows, batch_size=2000)
for n in range({PEOPLE}):
    Staff.objects.create(username=f"p{{n}}", full_name=f"P {{n}}", role="vaccinator",
                         password=Staff.objects.get(username="marlowe").password)
"""


class Person(threading.Thread):
    """One screen: asks, reads, waits; keeps the seconds of each kind of page."""

    def __init__(self, url: str, number: int, until: list[float], found: list[tuple[str, float]]):
        super().__init__(daemon=True)
        self.host = urlsplit(url).netloc
        self.number, self.until, self.found = number, until, found
        self.rng = random.Random(number)
        self.cookies: dict[str, str] = {}
        self.line = http.client.HTTPConnection(self.host, timeout=60)
        self.ready = threading.Event()
        self.failed = 0

    def ask(self, method: str, path: str, fields: dict[str, str] | None = None) -> tuple[int, str]:
        headers = {"Cookie": "; ".join(f"{k}={v}" for k, v in self.cookies.items())}
        body = None
        if fields is not None:
            body = urlencode(fields)
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        self.line.request(method, path, body, headers)
        answer = self.line.getresponse()
        text = answer.read().decode("utf-8", "replace")
        for value in answer.headers.get_all("Set-Cookie") or []:
            name, _, rest = value.partition("=")
            self.cookies[name] = rest.partition(";")[0]
        return answer.status, text

    def sign_in(self) -> None:
        _, page = self.ask("GET", "/sign-in/")
        token = re.findall(r'csrfmiddlewaretoken" value="(\w+)"', page)[-1]
        fields = {"username": f"p{self.number}", "password": "demo clinic only"}
        status, _ = self.ask("POST", "/sign-in/", fields | {"csrfmiddlewaretoken": token})
        assert status == 302

    def timed(self, kind: str, path: str) -> str:
        start = time.perf_counter()
        status, text = self.ask("GET", path)
        self.found.append((kind, time.perf_counter() - start))
        self.failed += status not in (200, 204)
        return text

    def run(self) -> None:
        self.sign_in()
        self.ready.set()
        while not self.until:
            time.sleep(0.05)
        time.sleep(self.rng.uniform(*THINKING_SECONDS))
        trays: list[str] = []
        while time.perf_counter() < self.until[0]:
            page = self.timed("day", "/day/")
            trays = re.findall(r'href="(/visit/\d+/tray/)"', page) or trays
            stamp = re.search(r'hx-get="([^"]+)"', page)
            self.pause()
            if stamp:
                self.timed("board", stamp[1].replace("&amp;", "&"))
            self.timed("tray", self.rng.choice(trays))
            self.pause()

    def pause(self) -> None:
        time.sleep(self.rng.uniform(*THINKING_SECONDS))


def fifty_people(full: bool) -> list[dict[str, Any]]:
    """Requests a second, median and 95th percentile in milliseconds, by kind of page."""
    seconds = 120 if full else 20
    with tempfile.TemporaryDirectory() as home:
        clinic = Clinic(Path(home) / "clinic")
        clinic.run(LOAD)
        with running(clinic):
            found: list[tuple[str, float]] = []
            until: list[float] = []
            people = [Person(clinic.url, n, until, found) for n in range(PEOPLE)]
            for person in people:
                person.start()
            for person in people:
                person.ready.wait(60)
            until.append(time.perf_counter() + seconds)
            for person in people:
                person.join()
    rows = [
        _row(kind, [s for k, s in found if k == kind], seconds) for kind in ("day", "board", "tray")
    ]
    rows.append(_row("all", [s for _, s in found], seconds))
    rows[-1]["failed"] = sum(person.failed for person in people)
    for row in rows[:-1]:
        row["failed"] = ""
    return rows


def killed(times: int) -> list[dict[str, Any]]:
    """The kill test of the suite with as many kills; raises when an entry is lost or double."""
    test = "tests/database/test_concurrency.py::test_what_was_confirmed_before_kill_9_is_there_once"
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-n", "0", "-q", test],
        cwd=ROOT,
        env={**os.environ, "TRAYWISE_KILLS": str(times)},
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode != 0:
        raise RuntimeError(done.stdout[-3000:])
    seconds = round(time.perf_counter() - start, 1)
    return [{"kills on each database": times, "lost": 0, "double": 0, "seconds": seconds}]


def _row(kind: str, times: list[float], seconds: float) -> dict[str, Any]:
    return {
        "page": kind,
        "requests": len(times),
        "requests/s": round(len(times) / seconds, 1),
        "median ms": round(median(times) * 1000, 1),
        "95th ms": round(quantiles(times, n=20)[-1] * 1000, 1),
    }
