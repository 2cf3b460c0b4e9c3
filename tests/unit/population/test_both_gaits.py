"""One logic, two gaits: the compiled answers are those of the plain functions, also after edits."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from tools.compare_gaits import differences

ROOT = Path(__file__).resolve().parents[3]


@pytest.mark.parametrize(("edition", "count"), [("us-2025", 2_000), ("who", 300)])
def test_answers_of_one_child_and_of_a_population_are_equal(edition: str, count: int) -> None:
    found, _ = differences(number=0, count=count, seed=20, edition=edition)

    assert found == []


def _compare_in_a_fresh_process(package: Path, cache: Path) -> str:
    """The last line of the comparison run with the package in a folder: differences and digest."""
    environment = os.environ | {"PYTHONPATH": str(package), "XDG_CACHE_HOME": str(cache)}
    run = subprocess.run(
        [sys.executable, str(ROOT / "tools" / "compare_gaits.py"), "60", "--workers", "0"],
        env=environment,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert run.stderr == ""
    return run.stdout.splitlines()[-1]


def _edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1, f"{path.name} has changed; choose another edit"
    path.write_text(text.replace(old, new), encoding="utf-8")


@pytest.mark.slow
def test_an_edit_of_rule_or_logic_reaches_the_compiled_code(tmp_path: Path) -> None:
    # The compiler's own cache does not see edits in the logic's files: the trap this closes.
    shutil.copytree(
        ROOT / "src" / "traywise",
        tmp_path / "traywise",
        ignore=shutil.ignore_patterns("__pycache__", "workbench"),
    )
    cache = tmp_path / "cache"
    before = _compare_in_a_fresh_process(tmp_path, cache)
    _edit(
        tmp_path / "traywise" / "schedule" / "conditions.py",
        "return lists + state * c.LISTS + purpose",
        "return lists + 0 * state * c.LISTS + purpose",
    )
    after_logic = _compare_in_a_fresh_process(tmp_path, cache)
    _edit(
        tmp_path / "traywise" / "editions" / "us-2025" / "mmr.toml",
        'key = "MMR"\n',
        'key = "MMR"\nnot_cvx = ["03"]\n',
    )
    after_rule = _compare_in_a_fresh_process(tmp_path, cache)

    assert all(line.startswith("0 of 60") for line in (before, after_logic, after_rule))
    assert len({before, after_logic, after_rule}) == 3
    assert len(list((cache / "traywise").glob("compiled-*"))) == 2
