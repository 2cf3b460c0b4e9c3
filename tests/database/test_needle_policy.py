"""The clinic's needle policy: which table its trays follow, and that the default is unchanged."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.workbench_clinic import PREPARE, SETUP, Clinic

from traywise.tray.plan import Place, Tray
from traywise.workbench.asking.needle_policy import policy_words
from traywise.workbench.asking.trays import plan_day_together, planned
from traywise.workbench.day.models import Appointment
from traywise.workbench.giving.models import LaidTray, TrayChange
from traywise.workbench.giving.visit import whole_visit

pytestmark = pytest.mark.django_db
OWN = """[[policy]]
key = "quayside"
name = "Quayside's own table (invented)"
falls_back_to = "acip-2024"
note = "Made for a test."
source = "common practice"

[[row]]
key = "quayside-sc"
policy = "quayside"
route = "SC"
site = "triceps"
age_from = "birth"
age_before = "19 years"
lengths_mm = [16]
default_mm = 16
gauges = [23]
why = "made for a test"
default_source = "common practice"
source = "common practice"
"""


@pytest.fixture
def juno(demo: dict[str, Appointment]) -> Appointment:
    """15 months; injections into muscle and under the skin."""
    return demo["Juno Harrowgate"]


def tray_now(visit: Appointment) -> Tray:
    return planned(whole_visit(visit.pk)).tray


def place_of(tray: Tray, vaccine: str) -> Place:
    return next(place for place in tray.tray if place.vaccine == vaccine)


def test_the_default_is_the_us_table(juno: Appointment, settings: Any) -> None:
    """ACIP General Best Practice, Table 6-2: under the skin 16 mm (5/8 in), 23 to 25 gauge."""
    assert settings.NEEDLE_POLICY == "acip-2024"
    tray = tray_now(juno)
    assert tray.needle_policy == "acip-2024"
    needle = place_of(tray, "VAR").needle
    assert needle is not None
    assert (needle.gauge, needle.length_mm) == (25, 16)


@pytest.mark.parametrize(
    ("policy", "site", "one_piece_is_missing"),
    [
        ("acip-2024", "LT", False),  # Table 6-2: the thigh first until 2 years
        ("australia-2018", "LD", False),  # needle table 2018: deltoid first from 12 months
        ("who-programme", "LT", True),  # the needle is fixed on the auto-disable syringe
    ],
)
@pytest.mark.parametrize("together", [False, True])
def test_trays_follow_the_policy_that_is_set(
    juno: Appointment,
    settings: Any,
    policy: str,
    site: str,
    one_piece_is_missing: bool,
    together: bool,
) -> None:
    settings.NEEDLE_POLICY = policy
    if together:
        plan_day_together(juno.day)
    tray = tray_now(juno)
    assert tray.needle_policy == policy
    assert {place.site for place in tray.tray if place.vaccine == "HepA"} == {site}
    assert ("in one piece" in (place_of(tray, "VAR").needle_missing or "")) == one_piece_is_missing


def test_a_change_of_lot_is_laid_out_by_the_same_policy(
    juno: Appointment, settings: Any, people: Any
) -> None:
    settings.NEEDLE_POLICY = "australia-2018"
    lot = next(lot for lot in _lots() if lot[0] == place_of(tray_now(juno), "HepA").lot)
    TrayChange.objects.create(
        visit=juno, group="HepA", what="lot", value="|".join(lot), by=people["vaccinator"]
    )
    tray = tray_now(juno)
    assert (tray.needle_policy, place_of(tray, "HepA").site) == ("australia-2018", "LD")


def _lots() -> list[tuple[str, str, str, str, str]]:
    from traywise.workbench.shelf.models import Lot

    return [(lot.lot, lot.cvx, lot.unit, lot.funding, "") for lot in Lot.objects.all()]


def test_the_tray_names_the_policy_and_a_laid_one_keeps_its_own(
    juno: Appointment, settings: Any, as_role: Callable[[str], Any], people: Any
) -> None:
    desk, path = as_role("vaccinator"), f"/visit/{juno.pk}/tray/"
    us, australia = "Needle policy: US: ACIP General", "Needle policy: Australia: Immunisation"
    assert us in desk.get(path).content.decode()
    settings.NEEDLE_POLICY = "australia-2018"
    assert australia in desk.get(path).content.decode()
    desk.post(f"/visit/{juno.pk}/start/", {"questions_open": "1"})
    assert LaidTray.objects.get().tray["needle_policy"] == "australia-2018"
    settings.NEEDLE_POLICY = "acip-2024"
    page = desk.get(path).content.decode()
    assert australia in page
    assert us not in page


def test_a_file_of_the_clinics_own_is_followed_and_named(
    juno: Appointment, settings: Any, tmp_path: Path, as_role: Callable[[str], Any]
) -> None:
    file = tmp_path / "needles.toml"
    file.write_text(OWN, encoding="utf-8")
    settings.NEEDLE_POLICY = str(file)
    tray = tray_now(juno)
    assert tray.needle_policy == "quayside"
    assert "23 gauge" in (place_of(tray, "VAR").needle_missing or "")
    page = as_role("reader").get(f"/visit/{juno.pk}/tray/").content.decode()
    assert "Quayside&#x27;s own table (invented)" in page
    settings.NEEDLE_POLICY = "acip-2024"
    assert policy_words("quayside") == "Needle policy: quayside."
    assert policy_words("") == ""


@pytest.mark.parametrize("name", ["no-such-table", "no-such-file.toml"])
def test_a_policy_that_cannot_be_used_lays_no_tray_and_opens_no_workbench(
    name: str, juno: Appointment, settings: Any, as_role: Callable[[str], Any], tmp_path: Path
) -> None:
    settings.NEEDLE_POLICY = name
    page = as_role("vaccinator").get(f"/visit/{juno.pk}/tray/").content.decode()
    assert "No tray for" in page
    assert name in page
    clinic = Clinic(tmp_path / "home")
    done = subprocess.run(
        [sys.executable, "-c", PREPARE],
        env={**clinic.env, "TRAYWISE_NEEDLE_POLICY": name, "PATH": os.environ["PATH"]},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "TRAYWISE_NEEDLE_POLICY cannot be used." in done.stderr
    assert name in done.stderr
    assert "Traceback" not in done.stderr


def test_the_setting_is_read_from_the_environment(tmp_path: Path) -> None:
    clinic = Clinic(tmp_path / "home")
    clinic.env["TRAYWISE_NEEDLE_POLICY"] = "who-programme"
    code = f"{SETUP}from django.conf import settings; print(settings.NEEDLE_POLICY)"
    assert clinic.run(code).strip() == "who-programme"
