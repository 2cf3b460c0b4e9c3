"""Photographs the workbench with the demo clinic, for README and docs.

python tools/make_screenshots.py [FOLDER]    pictures go to docs/pictures, or to FOLDER

Needs chromium (TRAYWISE_CHROMIUM or on the path) and the dev requirements.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from playwright.sync_api import sync_playwright  # noqa: E402
from tests.browser.steps import Hand, answer_all_no, laid_lots, visit_of  # noqa: E402
from tests.workbench_clinic import Clinic, running  # noqa: E402

CHROMIUM = os.environ.get("TRAYWISE_CHROMIUM") or shutil.which("chromium")
ARGUMENTS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"]
LOAD = (
    "from traywise.workbench import serving; serving.prepare();"
    "from traywise.workbench.demo.load import load_demo_clinic; load_demo_clinic()"
)


def photograph(page: Any, folder: Path) -> None:
    """One picture of each page a newcomer should see."""

    def take(name: str, width: int = 1280, height: int = 800) -> None:
        page.set_viewport_size({"width": width, "height": height})
        page.evaluate("scrollTo(0, 0)")
        page.screenshot(path=folder / f"workbench-{name}.png")

    page.goto("/sign-in/")
    page.fill("#id_username", "marlowe")
    page.fill("#id_password", "demo clinic only")
    page.click("main button")
    for name in ("Piet Aldersea", "Wim Aldersea", "Odile Fenwright"):
        page.locator(f".board li:has-text('{name}') >> text=Arrived").last.click()
    take("day")
    take("day-phone", 390, 844)
    tray = visit_of(page, "Odile Fenwright")
    page.goto(tray)
    take("tray", 1280, 1000)
    page.goto(tray.replace("tray", "screen"))
    take("screen", 1024, 600)
    answer_all_no(page)
    page.goto(tray)
    lots = laid_lots(page)
    page.click("text=start giving")
    hand = Hand(page)
    hand.scan("HA2018")
    take("stop", 1024, 600)
    hand.scan(lots[0])
    take("give", 1024, 600)
    page.click("button:text-is('Given')")
    for lot in lots[1:]:
        hand.scan(lot)
        page.click("button:text-is('Given')")
        page.wait_for_load_state()
    take("after", 1024, 760)
    page.goto(visit_of(page, "Basim Thornquay"))
    page.click("text=History")
    take("child", 1280, 1100)
    page.goto("/shelf/")
    take("shelf")


def main() -> int:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs" / "pictures"
    folder.mkdir(parents=True, exist_ok=True)
    if CHROMIUM is None:
        print("No chromium found: set TRAYWISE_CHROMIUM.", file=sys.stderr)
        return 1
    with tempfile.TemporaryDirectory() as home, sync_playwright() as driver:
        clinic = Clinic(Path(home) / "clinic")
        clinic.env |= {"TRAYWISE_CLINIC": "Quayside clinic (invented)", "TRAYWISE_DEMO": "1"}
        clinic.run(LOAD)
        with running(clinic):
            browser = driver.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
            photograph(browser.new_page(base_url=clinic.url), folder)
            browser.close()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
