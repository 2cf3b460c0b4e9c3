"""Outside files for checks: published cases and examples that are not part of this repository."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def shared(name: str) -> Path:
    """The outside file or folder; skips the test, saying so, where it is not to hand."""
    base = Path(os.environ.get("TRAYWISE_SHARED", ROOT.parent / "shared"))
    path = base / name
    if not path.exists():
        pytest.skip(f"outside file {name} is not here (set TRAYWISE_SHARED to its folder)")
    return path
