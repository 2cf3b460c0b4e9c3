"""The second factor in a real browser, with JavaScript on and off."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest
from tests.browser.conftest import PASSWORD

pyotp = pytest.importorskip("pyotp", reason="the workbench extra is not installed")
pytestmark = pytest.mark.browser


@pytest.mark.parametrize(("who", "scripts"), [("quist", True), ("ferrant", False)])
def test_set_up_then_asked_at_sign_in(browse: Callable[..., Any], who: str, scripts: bool) -> None:
    page = browse(who, java_script_enabled=scripts)
    page.goto("/own/")
    page.click("text=Second factor")
    page.fill("#id_current_password", PASSWORD)
    page.click("button:text-is('Set up')")
    secret = page.inner_text(".secret")
    box = page.locator("svg.code-picture").bounding_box()
    assert box["width"] >= 150
    assert box["width"] == box["height"]
    maker = pyotp.TOTP(secret)
    page.fill("#id_code", maker.at(int(time.time()) - 30))
    page.click("text=Confirm and switch on")
    recovery = page.locator(".recovery b").all_inner_texts()
    assert len(recovery) == 8

    for code in (maker.now(), recovery[0]):
        page = browse(java_script_enabled=scripts)
        page.goto("/shelf/")
        page.fill("#id_username", who)
        page.fill("#id_password", PASSWORD)
        page.click("main button")
        page.fill("#id_code", "000 000")
        page.click("main button")
        assert "not right" in page.inner_text("main")
        page.fill("#id_code", code)
        page.click("main button")
        assert page.url.endswith("/shelf/")
