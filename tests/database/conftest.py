"""Django for the tests of this folder: a home of their own, fast hashing, ready people."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator
from typing import Any

import pytest

pytest.importorskip("django", reason="the workbench extra is not installed")

os.environ["DJANGO_SETTINGS_MODULE"] = "traywise.workbench.settings"
os.environ["TRAYWISE_HOME"] = tempfile.mkdtemp(prefix="traywise-tests-")
os.environ["TRAYWISE_DATABASE"] = os.environ.get("TRAYWISE_TEST_DATABASE", "")

import django

django.setup()
if os.environ["TRAYWISE_DATABASE"]:
    from django.db import connection

    assert connection.vendor == "postgresql", "the tests would run on the wrong database"

from tests.workbench_clinic import DEMO, Clinic, Postgres  # noqa: E402


@pytest.fixture(autouse=True)
def _quick_and_clean(settings: Any) -> Iterator[None]:
    """Argon2 is slow on purpose; tests of pages do not test it. No answer outlives a test."""
    from django.core.cache import cache

    from traywise.workbench.frame.drawn import forget_drawn

    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    cache.clear()
    forget_drawn()
    yield
    cache.clear()


@pytest.fixture
def people(db: None) -> dict[str, Any]:
    """One person of each role; the password is "a long password"."""
    from traywise.workbench.accounts.models import Staff
    from traywise.workbench.accounts.roles import ROLES

    return {
        role: Staff.objects.create_user(role, "a long password", full_name=role, role=role)
        for role in ROLES
    }


@pytest.fixture
def as_role(people: dict[str, Any]) -> Callable[[str], Any]:
    """A browser signed in as a role."""
    from django.test import Client

    def signed_in(role: str) -> Any:
        client = Client()
        client.force_login(people[role])
        return client

    return signed_in


@pytest.fixture
def demo(db: None) -> Any:
    """The tests' clinic, on today."""
    from tests.clinic.load import load_test_clinic

    load_test_clinic()
    from traywise.workbench.day.models import Appointment

    return {visit.child.name: visit for visit in Appointment.objects.select_related("child").all()}


@pytest.fixture(scope="session")
def ready_clinics(
    tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest
) -> Callable[[str], tuple[Clinic, str]]:
    """A demo clinic on each database, made once, to be copied by the tests that need one."""
    made: dict[str, tuple[Clinic, str]] = {}

    def ready(kind: str) -> tuple[Clinic, str]:
        if kind not in made:
            database = ""
            if kind == "postgresql":
                database = request.getfixturevalue("postgres").new_database()
            clinic = Clinic(tmp_path_factory.mktemp(kind) / "home", database)
            clinic.run(DEMO)
            made[kind] = (clinic, database)
        return made[kind]

    return ready


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    server = Postgres()
    yield server
    server.stop()
