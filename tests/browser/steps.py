"""What people do in the browser, in their words. Counts taps."""

from __future__ import annotations

from typing import Any


class Hand:
    """A gloved finger on one page; scans come from the scanner, not from it."""

    def __init__(self, page: Any):
        self.page, self.taps = page, 0

    def tap(self, what: str) -> None:
        self.page.locator(what).first.click()
        self.page.wait_for_load_state()
        self.taps += 1

    def scan(self, code: str) -> None:
        """The scanner types into whatever has the focus, and ends with Enter."""
        ready_to_scan(self.page)
        self.page.keyboard.type(code)
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")


def ready_to_scan(page: Any) -> None:
    """The focus waits in the scan field by itself."""
    page.wait_for_function("document.activeElement?.matches('[data-scan]')")


def visit_of(page: Any, name: str) -> str:
    """The address of a child's tray on today's board."""
    page.goto("/day/")
    return str(page.locator(f".board a:has-text('{name}')").first.get_attribute("href"))


def laid_lots(page: Any) -> list[str]:
    """The lots of the tray in the order of giving."""
    cells = page.locator(".place dt:text-is('lot') + dd")
    return [text.strip() for text in cells.all_inner_texts()]


def answer_all_no(page: Any) -> None:
    """Answer what is open, further questions included."""
    for _ in range(6):
        if page.locator("button[name=all]").count():
            page.locator("button[name=all]").click()
        elif page.locator(".question button:text-is('no')").count():
            page.locator(".question button:text-is('no')").first.click()
        else:
            return
        page.wait_for_load_state()
