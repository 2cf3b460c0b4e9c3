"""A nurse enters a condition's days and a box's last day: by keyboard, and without JavaScript."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from tests.browser.steps import visit_of
from tests.browser.test_every_page import SIZES, faults_of

pytestmark = pytest.mark.browser
FROM, UNTIL = "[name='from-chemotherapy']", "[name='until-chemotherapy']"


def edit_page(page: Any, name: str) -> str:
    """Opens the form of a child's facts; the address of the child."""
    page.goto(visit_of(page, name))
    page.click("a:text-is('History')")
    child = str(page.url)
    page.click("text=Change facts")
    return child


@pytest.mark.parametrize(
    ("name", "with_script"), [("Piet Aldersea", True), ("Wim Aldersea", False)]
)
def test_days_open_with_the_tick_and_are_kept(
    browse: Callable[..., Any], name: str, with_script: bool
) -> None:
    page = browse("marlowe", java_script_enabled=with_script)
    edit_page(page, name)
    page.click("summary:has-text('counted by its days')")
    assert not page.locator(FROM).is_visible()
    tick = page.get_by_label("Chemotherapy for cancer", exact=True)
    tick.focus()
    page.keyboard.press("Space")
    assert page.locator(FROM).is_visible()
    page.keyboard.press("Tab")
    page.keyboard.type("10012026")  # the browser's own day field: month, day, year
    assert page.locator(FROM).input_value() == "2026-10-01"
    page.locator(UNTIL).fill("2026-09-30")
    page.keyboard.press("Enter")
    page.wait_for_load_state()
    assert "Ends on 2026-09-30, before it begins on 2026-10-01" in page.inner_text("main")
    page.click(".note.bad a")
    assert page.url.endswith("#id_until-chemotherapy")
    page.locator(UNTIL).fill("2026-11-01")
    page.click("button:text-is('Keep')")
    page.wait_for_load_state()
    shown = page.inner_text(".note.ask >> nth=0")
    assert "Chemotherapy for cancer, from 2026-10-01, until 2026-11-01" in shown


def test_the_form_is_fit_to_use_with_days_and_with_a_fault(browse: Callable[..., Any]) -> None:
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed"
    ).Axe()
    page = browse("marlowe")
    edit_page(page, "Lotte Saltmarsh")  # has dated steroids on record
    page.locator("[name='from-steroid-high-dose']").fill("2026-05-02")
    page.locator("[name='until-steroid-high-dose']").fill("2026-05-01")
    with page.expect_navigation() as leaving:
        page.click("button:text-is('Keep')")
    assert faults_of(page, leaving.value, axe) == []
    for width, height in SIZES.values():
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0


def test_supplies_are_narrowed_and_dated_without_javascript(browse: Callable[..., Any]) -> None:
    page = browse("marlowe", java_script_enabled=False)
    page.goto("/shelf/")
    page.click("nav[aria-label='Kinds of supplies'] a:text-is('syringe')")
    listed = page.locator("#supplies ul.plain a").all_inner_texts()
    assert listed == ["syringe 1 mL"]
    page.click("a:text-is('syringe 1 mL')")
    page.fill("#id_expires", "2020-01")
    page.click("text=Keep the count")
    assert "use by 2020-01-31" in page.inner_text("#supplies")
    assert "expired: take it out" in page.inner_text("#supplies")
