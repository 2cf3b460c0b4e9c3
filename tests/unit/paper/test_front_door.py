"""The public names of the paper room, loaded by name."""

from __future__ import annotations

import subprocess
import sys

import pytest

from traywise import paper


@pytest.mark.parametrize("name", paper.__all__)
def test_each_public_name_is_there(name: str) -> None:
    assert getattr(paper, name).__module__.startswith("traywise.paper.")


def test_another_name_is_refused() -> None:
    with pytest.raises(AttributeError, match="no attribute 'ink'"):
        _ = paper.ink


def test_text_for_the_terminal_loads_no_drawing() -> None:
    code = (
        "import sys, traywise.paper.terminal as t;"
        "print([n for n in sys.modules if n.endswith(('.body_map', '.labels', '.typesetting'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
