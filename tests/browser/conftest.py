"""A real Chromium against the real server, each in a process of its own."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from tests.workbench_clinic import DEMO, Clinic, Postgres, copy_of, running

CHROMIUM = os.environ.get("TRAYWISE_CHROMIUM") or shutil.which("chromium") or ""
ARGUMENTS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"]
PASSWORD = "demo clinic only"


@pytest.fixture(scope="package")
def chromium() -> Iterator[Any]:
    """The browser; the tests are skipped where there is none."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if not CHROMIUM:
        pytest.skip("no chromium on this machine (set TRAYWISE_CHROMIUM)")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture(scope="package")
def postgres() -> Iterator[Postgres]:
    server = Postgres()
    yield server
    server.stop()


@pytest.fixture(scope="package")
def ready(
    tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest
) -> Callable[[str], tuple[Clinic, str]]:
    """A demo clinic on each database, made once and copied for each test module."""
    made: dict[str, tuple[Clinic, str]] = {}

    def get(kind: str) -> tuple[Clinic, str]:
        if kind not in made:
            database = ""
            if kind == "postgresql":
                database = request.getfixturevalue("postgres").new_database()
            clinic = Clinic(tmp_path_factory.mktemp(kind) / "home", database)
            clinic.run(DEMO)
            made[kind] = (clinic, database)
        return made[kind]

    return get


@pytest.fixture(scope="module")
def open_clinic(
    ready: Callable[[str], tuple[Clinic, str]],
    request: pytest.FixtureRequest,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Clinic]:
    """A running copy of the tests' clinic; a parameter names the database (default sqlite).

    One for the tests of a module: each of them takes a child of its own.
    """
    kind = getattr(request, "param", "sqlite")
    clinic, database = ready(kind)
    if database:
        database = request.getfixturevalue("postgres").new_database(like=database)
    with running(copy_of(clinic, tmp_path_factory.mktemp("open") / "home", database)) as opened:
        yield opened


@pytest.fixture
def browse(chromium: Any, open_clinic: Clinic) -> Iterator[Callable[..., Any]]:
    """Opens a page signed in as somebody; console errors fail the test."""
    contexts, said = [], []

    def open_page(who: str = "", **options: Any) -> Any:
        options.setdefault("viewport", {"width": 1280, "height": 800})
        context = chromium.new_context(base_url=open_clinic.url, **options)
        context.set_default_timeout(10_000)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda m: said.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda error: said.append(str(error)))
        if who:
            page.goto("/sign-in/")
            page.fill("#id_username", who)
            page.fill("#id_password", PASSWORD)
            page.click("text=Sign in >> nth=-1")
            page.wait_for_url("**/day/")
        return page

    yield open_page
    for context in contexts:
        context.close()
    # The browser itself reports answers such as 409 (a stop); those are meant.
    assert [text for text in said if "status of 4" not in text] == []
