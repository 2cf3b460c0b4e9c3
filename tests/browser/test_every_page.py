"""Every page: no axe violation, no sideways scrolling, large targets, no inline script."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from tests.browser.conftest import PASSWORD
from tests.browser.steps import Hand, answer_all_no, laid_lots, visit_of

pytestmark = pytest.mark.browser
SIZES = {"tablet": (1024, 600), "desk": (1280, 800), "phone": (390, 844)}
PRESSED = (
    "main button, main .btn, main select, "
    "main input:not([type=checkbox]):not([type=hidden]):not([type=radio])"
)
LEAST_TARGET = 44  # px; those that are pressed with gloves have 48 and more
HEAVIEST_PAGE = 100_000  # bytes without pictures


def walk(page: Any) -> list[str]:
    """Bring the demo clinic into every state; the addresses of all pages."""
    tray = visit_of(page, "Odile Fenwright")
    visit = tray.removesuffix("tray/")
    page.goto(visit + "change/2/")
    found = [visit + "change/2/", tray, visit + "screen/"]
    page.goto(visit + "screen/")
    answer_all_no(page)
    page.goto(tray)
    lots = laid_lots(page)
    page.click("text=start giving")
    found.append(visit + "give/")
    for lot in lots:
        Hand(page).scan(lot)
        page.click("button:text-is('Given')")
        page.wait_for_load_state()
    found += [visit + "after/", "/ledger/1/", "/ledger/1/undo/", "/ledger/1/change/"]
    other = visit_of(page, "Basim Thornquay")
    found += [other, other.replace("tray", "screen")]
    child = page.goto(other) and page.locator("a:text-is('History')").get_attribute("href")
    found += [child, f"{child}edit/", f"{child}past-dose/"]
    page.goto("/day/")
    roster = page.locator("text=Bring in a roster").get_attribute("href")
    page.goto(roster)
    table = b"id,name,born,sex\nz1,Zoe,2026-02-30,boi\nz2,Yan,2026-03-01,F\n"
    page.set_input_files("#id_file", {"name": "r.csv", "mimeType": "text/csv", "buffer": table})
    page.click("text=Read it")
    found += [roster, page.url, "/day/", roster.replace("roster", "picks")]
    page.goto("/shelf/")
    lot = page.locator("a:text-is('FM2609')").get_attribute("href")
    found += [
        "/shelf/",
        lot,
        "/shelf/receive/",
        "/shelf/order/",
        "/shelf/supply/1/",
        "/shelf/?item=needle",
    ]
    found += ["/children/", "/children/new/", "/ledger/", "/staff/", "/staff/new/", "/staff/1/"]
    page.goto("/own/second-factor/")
    page.fill("#id_current_password", PASSWORD)
    page.click("button:text-is('Set up')")
    found.append("/own/second-factor/")
    return [*found, "/trail/", "/own/", "/no-such-page/", roster.replace("roster", "add/5")]


def test_all_pages_are_fit_to_use(browse: Callable[..., Any]) -> None:
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed"
    ).Axe()
    page = browse("okonvale")
    wrong: list[str] = []
    for address in walk(page):
        page.set_viewport_size({"width": 1280, "height": 800})
        response = page.goto(address)
        wrong += [f"{address}: {fault}" for fault in faults_of(page, response, axe)]
        for name, (width, height) in SIZES.items():
            page.set_viewport_size({"width": width, "height": height})
            over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            if over > 0:
                wrong.append(f"{address}: {over} px too wide on a {name}")
    assert wrong == []


def faults_of(page: Any, response: Any, axe: Any) -> list[str]:
    found = []
    page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    for violation in axe.run(page).response["violations"]:
        where = [node["html"][:120] for node in violation["nodes"][:2]]
        found.append(f"axe {violation['id']}: {where}")
    html = response.text()
    if re.search(r"<script(?![^>]*\bsrc=)|\son\w+=|<style|\sstyle=", html):
        found.append("inline script or style")
    without_pictures = re.sub(r"<svg.*?</svg>", "", html, flags=re.DOTALL)
    if len(without_pictures.encode()) > HEAVIEST_PAGE:
        found.append(f"{len(without_pictures)} bytes")
    small = page.evaluate(
        f"""(least) => [...document.querySelectorAll("{PRESSED}")]
        .filter((e) => e.offsetParent && e.getBoundingClientRect().height < least)
        .map((e) => e.outerHTML.slice(0, 90))""",
        LEAST_TARGET,
    )
    return found + [f"small target {html}" for html in small]


def test_pages_before_sign_in_are_fit_too(browse: Callable[..., Any]) -> None:
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed"
    ).Axe()
    page = browse()
    assert faults_of(page, page.goto("/sign-in/"), axe) == []
    page = browse("quist")
    page.click("text=Rest")
    assert "Resting for" in page.inner_text("h1")
    assert faults_of(page, page.reload(), axe) == []
    page = browse("quist")
    assert faults_of(page, page.goto("/staff/"), axe) == []


def test_the_stop_is_told_by_word_and_shape(browse: Callable[..., Any]) -> None:
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed"
    ).Axe()
    page = browse("okonvale")
    tray = visit_of(page, "Juno Harrowgate")
    page.goto(tray.replace("tray", "screen"))
    answer_all_no(page)
    page.goto(tray)
    page.click("text=start giving")
    Hand(page).scan("FM2609")
    assert "■ Stop" in page.inner_text("main")
    assert axe.run(page).violations_count == 0


def test_paper_shows_the_page_without_its_buttons(browse: Callable[..., Any]) -> None:
    page = browse("okonvale")
    page.goto("/day/")
    page.emulate_media(media="print")
    assert not page.locator(".top").is_visible()
    assert not page.locator("text=Bring in a roster").is_visible()
    assert page.locator(".board li").first.is_visible()
    assert page.pdf().startswith(b"%PDF")
