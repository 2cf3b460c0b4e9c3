"""What goes out with every page, and what production asks of the settings."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from tests.workbench_clinic import Clinic

from traywise.workbench.database_url import read_database_url
from traywise.workbench.keys import read_or_make_keys

CHECK = ["-m", "django", "check", "--deploy", "--fail-level", "INFO"]


def test_check_deploy_has_nothing_to_say_behind_tls(tmp_path: Path) -> None:
    env = Clinic(tmp_path).env | {
        "TRAYWISE_TLS": "proxy",
        "TRAYWISE_HOSTS": "trays.example",
        "DJANGO_SETTINGS_MODULE": "traywise.workbench.settings",
    }
    done = subprocess.run(
        [sys.executable, *CHECK], env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "no issues (0 silenced)" in done.stdout


def test_no_migration_is_missing(tmp_path: Path) -> None:
    env = Clinic(tmp_path).env | {"DJANGO_SETTINGS_MODULE": "traywise.workbench.settings"}
    words = ["-m", "django", "makemigrations", "--check", "--dry-run"]
    done = subprocess.run(
        [sys.executable, *words], env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.django_db
def test_every_page_carries_the_strict_headers(as_role: Callable[[str], Any], demo: Any) -> None:
    for client, path in ((Client(), "/sign-in/"), (as_role("reader"), "/day/")):
        headers = client.get(path).headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["Cache-Control"] == "no-store"
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "same-origin"


@pytest.mark.django_db
def test_cookies_are_out_of_reach_of_scripts_and_other_sites(people: Any) -> None:
    client = Client()
    client.get("/sign-in/")
    client.post("/sign-in/", {"username": "reader", "password": "a long password"})
    for name in ("traywise", "traywise_form"):
        assert client.cookies[name]["httponly"]
        assert client.cookies[name]["samesite"] == "Lax"


@pytest.mark.parametrize("url", ["mysql://x/y", "sqlite://", "clinic.sqlite3", ""])
def test_a_database_we_do_not_know_is_refused_with_a_remedy(url: str) -> None:
    with pytest.raises(ValueError, match="sqlite:///"):
        read_database_url(url)


def test_a_socket_folder_is_a_host() -> None:
    found = read_database_url("postgresql://postgres:@/clinic?host=/run/pg")
    assert (found["HOST"], found["NAME"], found["USER"]) == ("/run/pg", "clinic", "postgres")


def test_keys_are_made_once_and_for_the_owner_only(tmp_path: Path) -> None:
    first = read_or_make_keys(tmp_path / "home")
    assert read_or_make_keys(tmp_path / "home") == first
    assert len(first["secret"]) > 60
    assert (tmp_path / "home" / "keys.json").stat().st_mode & 0o077 == 0


def test_start_up_of_other_commands_stays_free_of_django() -> None:
    code = "import sys, traywise.cli, traywise.tray.compose; assert 'django' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)
