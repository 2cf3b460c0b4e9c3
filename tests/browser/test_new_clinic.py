"""The first morning: an empty database, the first account, the first lot, the first child."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from tests.workbench_clinic import Clinic, running

pytestmark = pytest.mark.browser


def test_an_empty_clinic_becomes_one_that_works(chromium: Any, tmp_path: Path) -> None:
    with running(Clinic(tmp_path / "home")) as clinic:
        page = chromium.new_page(base_url=clinic.url)
        page.goto("/")
        assert page.url.endswith("/first/")
        page.fill("#id_full_name", "A. First")
        page.fill("#id_username", "first")
        page.fill("#id_password", "a sentence is easier")
        page.click("text=Make the account")
        assert "No child stands on this day yet" in page.inner_text("main")

        page.goto("/shelf/receive/")
        page.select_option("#id_product", "PCV20 216")
        page.select_option("#id_presentation", "prefilled")
        page.fill("#id_lot", "pk1")
        page.fill("#id_expires", "2099-03")
        page.fill("#id_doses", "10")
        page.click("text=Receive >> nth=-1")
        assert "10 doses of PCV20, lot PK1, received" in page.inner_text("main")

        page.goto("/children/new/")
        page.fill("#id_name", "Una Invented")
        page.fill("#id_id", "u1")
        page.fill("#id_born", "2099-01-01")
        page.click("text=Keep >> nth=-1")
        assert page.locator(".errorlist").count() == 1  # born after today
        assert page.input_value("#id_name") == "Una Invented"
        page.fill("#id_born", "2026-06-01")
        page.click("text=Keep >> nth=-1")
        assert "Una Invented" in page.inner_text("h1")
        page.click("text=Comes today")
        page.click("text=Add to the day")
        assert "Una Invented" in page.inner_text(".board")
        page.close()
    # The clinic closes and opens again: everything is still there, and the keys fit.
    with running(clinic):
        page = chromium.new_page(base_url=clinic.url)
        page.goto("/")
        page.fill("#id_username", "first")
        page.fill("#id_password", "a sentence is easier")
        page.click("main button")
        assert "Una Invented" in page.inner_text(".board")
        page.close()
    assert (clinic.home / "keys.json").stat().st_mode & 0o077 == 0
