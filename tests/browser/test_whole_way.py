"""The whole way in a real browser: from sign-in to the stock that fell and the trail."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from tests.browser.steps import Hand, answer_all_no, laid_lots, ready_to_scan, visit_of

pytestmark = pytest.mark.browser
BOTH = ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)]


def roster() -> bytes:
    """A four-month-old who needs four doses, and a row with an impossible date."""
    born = date.today() - timedelta(days=130)
    nine_weeks = born + timedelta(days=63)
    day = nine_weeks.isoformat()
    heads = "id,name,born,sex,weight_kg,gestation_weeks,appointment,on,cvx"
    doses = [
        f"n1,Nele Invented,{born},F,6.6,40,12:00,{day if cvx != '08' else born},{cvx}"
        for cvx in ("08", "119", "110", "48", "216")
    ]
    bad = "n2,Ole Invented,2026-02-31,M,7.1,40,12:20,,"
    return "\n".join([heads, *doses, bad, ""]).encode()


def doses_left(page: Any, lot: str) -> int:
    page.goto("/shelf/?all=1")
    return int(page.locator(f"tr:has-text('{lot}') td.num").inner_text())


@pytest.mark.parametrize("open_clinic", BOTH, indirect=True)
def test_from_the_roster_to_the_record(browse: Callable[..., Any], tmp_path: Any) -> None:
    page = browse("okonvale")
    # The six-in-one lot is set apart, so that four doses are four.
    page.goto("/shelf/")
    page.click("text=HX7001")
    page.fill("#id_why", "box was wet")
    page.click("text=Set apart >> nth=-1")
    assert "Set apart" in page.inner_text("main")

    before = doses_left(page, "LM0931")

    page.goto("/day/")
    page.click("text=Bring in a roster")
    page.set_input_files(
        "#id_file", {"name": "roster.csv", "mimeType": "text/csv", "buffer": roster()}
    )
    page.click("text=Read it")
    assert "1 taken in, 1 to mend" in page.inner_text("h1")
    field = page.locator("input[aria-invalid=true]")
    assert field.input_value() == "2026-02-31"
    field.fill((date.today() - timedelta(days=70)).isoformat())
    page.click("text=Mend and read again")
    assert "2 taken in, 0 to mend" in page.inner_text("h1")

    # Four doses with nine taps or fewer, from the board to the watching.
    page.goto("/day/")
    hand = Hand(page)
    hand.tap(".board a:has-text('Nele Invented')")
    hand.tap("text=Screen first")
    while page.url.endswith("/screen/"):
        all_at_once = page.locator("button[name=all]").count()
        hand.tap("button[name=all]" if all_at_once else ".question button:text-is('no')")
    lots = laid_lots(page)
    assert len(lots) == 4
    assert "LM0931" in lots
    hand.tap("text=start giving")
    for number, lot in enumerate(lots, start=1):
        assert page.locator(".now .n").inner_text() == str(number)
        hand.scan(lot)
        assert "Right child, right vaccine, right lot" in page.inner_text("main")
        hand.tap("button:text-is('Given')")
    assert "Watch until" in page.inner_text("main")
    assert hand.taps <= 9

    # A correction, the parent's sheet, the fallen stock, the trail.
    page.locator("main a:has-text('ledger')").first.click()
    page.click("text=It was not given")
    page.fill("#id_reason", "spat out at once")
    page.click("text=Write the correction")
    assert "Undone" in page.inner_text("main")
    page.goto("/shelf/")
    assert doses_left(page, "LM0931") == before - 1
    page.goto("/trail/")
    trail = page.inner_text("main")
    for deed in ("gave a dose", "corrected a dose", "brought in a roster", "mended a roster"):
        assert deed in trail
    page.click("text=Check the seals")
    assert "The ledger holds" in page.inner_text("main")
    assert "The trail holds" in page.inner_text("main")


def test_the_wrong_vial_stops_and_the_right_one_goes_on(browse: Callable[..., Any]) -> None:
    page = browse("marlowe")
    tray = visit_of(page, "Odile Fenwright")
    page.goto(tray)
    page.click("text=Screen first")
    answer_all_no(page)
    page.goto(tray)
    lots = laid_lots(page)
    page.click("text=start giving")
    hand = Hand(page)
    hand.scan("HA6105")
    assert "Stop" in page.inner_text("[role=alert]")
    assert "Your role cannot pass this stop" in page.inner_text("main")
    assert page.locator("text=Given past the stop").count() == 0
    hand.scan(lots[0])
    assert "Right child, right vaccine, right lot" in page.inner_text("main")


def test_a_scanner_sends_separators_that_browsers_swallow(browse: Callable[..., Any]) -> None:
    """Ctrl+] is how a keyboard wedge types ASCII 29."""
    page = browse("marlowe")
    page.goto("/shelf/receive/")
    ready_to_scan(page)
    page.keyboard.type("0100200000001018" + "10QR2299")
    page.keyboard.press("Control+]")
    page.keyboard.type("17280531")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert page.input_value("#id_lot") == "QR2299"
    assert page.input_value("#id_expires") == "2028-05-31"
    assert page.input_value("#id_product") == "RV1 119"


def test_a_change_on_one_screen_appears_on_the_other(browse: Callable[..., Any]) -> None:
    desk, room = browse("ferrant"), browse("marlowe")
    room.goto("/day/")
    row = room.locator(".board li:has-text('Ravi Kestrel')")
    assert "Not arrived" in row.inner_text()
    desk.goto("/day/")
    desk.locator(".board li:has-text('Ravi Kestrel') >> text=Arrived").last.click()
    row.locator("text=open").wait_for(timeout=8_000)  # no reload of this page
    assert "Ravi Kestrel has arrived" in room.inner_text("[aria-live]")


def test_the_core_path_works_without_javascript(browse: Callable[..., Any]) -> None:
    page = browse("marlowe", java_script_enabled=False)
    tray = visit_of(page, "Piet Aldersea")
    page.locator(".board li:has-text('Piet Aldersea') >> text=Arrived").last.click()
    page.goto(tray)
    page.click("text=Screen first")
    answer_all_no(page)
    page.goto(tray)
    lots = laid_lots(page)
    page.locator("summary").first.click()  # "why" is on the page, not behind a script
    assert page.locator("details[open]").count() == 1
    page.click("text=start giving")
    for lot in lots:
        page.fill("#scan", lot)
        page.click("text=Check")
        page.click("button:text-is('Given')")
    assert "Watch until" in page.inner_text("main")


def test_the_main_path_goes_by_keyboard_alone(browse: Callable[..., Any]) -> None:
    page = browse()
    page.goto("/sign-in/")
    page.keyboard.type("marlowe")
    page.keyboard.press("Tab")
    page.keyboard.type("demo clinic only")
    page.keyboard.press("Enter")
    page.wait_for_url("**/day/")
    press(page, "Wim Aldersea")
    press(page, "Screen first")
    while page.url.endswith("/screen/"):
        press(page, "No to all" if page.locator("button[name=all]").count() else "no")
    lots = laid_lots(page)
    press(page, "start giving")
    for lot in lots:
        Hand(page).scan(lot)
        ready_to_scan(page)
        with page.expect_navigation():
            page.keyboard.press("Enter")  # nothing scanned: "Given"
    assert "Watch until" in page.inner_text("main")


def press(page: Any, words: str) -> None:
    """Tab until the focus is on something with these words, see that it shows, press Enter."""
    page.wait_for_load_state()
    for _ in range(120):
        page.keyboard.press("Tab")
        text = page.evaluate("document.activeElement.innerText || ''")
        if words == text.strip() or (len(words) > 3 and words in text):
            outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
            assert outline != "none"
            with page.expect_navigation():
                page.keyboard.press("Enter")
            return
    raise AssertionError(f"no way to “{words}” by Tab on {page.url}")


def test_a_repeated_press_and_a_second_screen_record_once(browse: Callable[..., Any]) -> None:
    page = browse("marlowe")
    tray = visit_of(page, "Juno Harrowgate")
    page.goto(tray)
    page.click("text=Screen first")
    answer_all_no(page)
    page.goto(tray)
    lots = laid_lots(page)
    page.click("text=start giving")
    other = page.context.new_page()
    other.goto(tray.replace("tray", "give"))
    Hand(page).scan(lots[0])
    Hand(other).scan(lots[0])
    with page.expect_navigation():
        page.locator("button:text-is('Given')").dblclick(no_wait_after=True)
    with other.expect_navigation():
        other.locator("button:text-is('Given')").click()
    assert "recorded already" in other.inner_text("main")
    page.goto("/ledger/")
    assert page.locator("tbody tr:has-text('Juno Harrowgate')").count() == 1
