"""docs/faults.md is what the fault codes say."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_the_page_of_faults_is_as_generated():
    done = subprocess.run(
        [sys.executable, str(ROOT / "tools/make_fault_docs.py"), "--check"],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout + done.stderr
