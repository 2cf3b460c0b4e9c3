"""docs/commands.md shows the help that the commands give."""

from __future__ import annotations

import runpy
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_the_page_is_up_to_date() -> None:
    tool = runpy.run_path(str(ROOT / "tools" / "make_command_docs.py"))
    assert (ROOT / "docs" / "commands.md").read_text(encoding="utf-8") == tool["generated"]()
