"""docs/evidence.md tells what the rulebook holds: its generated part is up to date."""

from __future__ import annotations

import importlib.util
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_the_generated_part_is_up_to_date() -> None:
    spec = importlib.util.spec_from_file_location("make_evidence", ROOT / "tools/make_evidence.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    text = (ROOT / "docs" / "evidence.md").read_text(encoding="utf-8")
    assert text.partition(module.START)[1:] == (
        module.START,
        module.generated()[len(module.START) :],
    )
