"""Every link and picture of the documents leads to a file of the repository."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")])
LINK = re.compile(r"\]\(([^)#\s]+)|(?:src|href)=\"([^\"#]+)\"")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    targets = [one or other for one, other in LINK.findall(page.read_text(encoding="utf-8"))]
    local = [target for target in targets if "://" not in target]
    missing = [target for target in local if not (page.parent / target).exists()]
    assert missing == []


def test_pages_with_links_are_found() -> None:
    assert {"README.md", "evidence.md"} <= {page.name for page in PAGES}
