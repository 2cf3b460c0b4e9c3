"""Memory does not grow with the number of children."""

from __future__ import annotations

import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from traywise.population.make import make_file

_RUN = """
import sys
from datetime import date
from pathlib import Path
from traywise.population.forecast import forecast_file
forecast_file(Path(sys.argv[1]), Path(sys.argv[2]), "us-2025", date(2026, 11, 24), 1, lambda _: 0)
status = Path("/proc/self/status").read_text()  # the process's own peak, not its parent's
print(status.split("VmHWM:")[1].split()[0])
"""


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="peak memory is read from /proc")
def test_three_times_the_children_need_hardly_more_memory(tmp_path: Path) -> None:
    peaks = []
    for count in (393_216, 1_179_648):
        source = tmp_path / f"{count}.pq"
        make_file(count, source, 1, date(2026, 11, 24), 2, lambda _: None)
        run = subprocess.run(
            [sys.executable, "-c", _RUN, str(source), str(tmp_path / "out.pq")],
            capture_output=True,
            text=True,
            check=True,
        )
        peaks.append(int(run.stdout))

    assert peaks[1] < 1.2 * peaks[0]
