"""How wide the text of every command is: 100 columns for a file, the terminal's on a terminal."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from traywise.cli import main
from traywise.demo.load import demo_files
from traywise.paper.columns import width_of

FILES = {name: str(path) for name, path in demo_files().items()}
ON = ("--on", "2026-11-24")
USE = "visit,item,gauge,length_mm,volume_ml,count,route\na,needle,25,25,,2,IM\na,wipe,,,,2,\n"
COMMANDS = {
    "forecast": ("forecast", FILES["roster"], "--text", "--why", *ON),
    "tray": ("tray", "CHILD", "--shelf", FILES["shelf"], "--supplies", FILES["supplies"], *ON),
    "session": (
        *("session", FILES["roster"], "--shelf", FILES["shelf"], *ON),
        *("--what-if", "lost-unit=Fridge B"),
    ),
    "shelf": ("shelf", FILES["shelf"], "--roster", FILES["roster"], *ON),
    "needles": ("needles", "USE", "--supplies", FILES["supplies"], "--sessions", "40"),
    "reach": ("reach", "--site", "thigh", "--age-months", "4", "--length-mm", "16"),
    "mass-day": ("mass-day", "--children", "500", "--product", "bOPV:20", "--posts", "3"),
    "editions list": ("editions", "list"),
    "editions show": ("editions", "show", "us-2025", "MenACWY"),
    "editions compare": ("editions", "compare", "us-2025", "us-2025+aap-2026"),
}


def words_of(command: str, folder: Path) -> list[str]:
    (folder / "use.csv").write_text(USE)
    lines = Path(FILES["roster"]).read_text(encoding="utf-8").splitlines()
    (folder / "child.json").write_text(lines[2])
    named = {"USE": str(folder / "use.csv"), "CHILD": str(folder / "child.json")}
    return [named.get(word, word) for word in COMMANDS[command]]


@pytest.mark.parametrize("command", COMMANDS)
def test_a_file_or_a_program_gets_at_most_100_columns(command: str, tmp_path: Path):
    result = CliRunner(env={"COLUMNS": "60"}).invoke(main, words_of(command, tmp_path))
    assert result.exit_code == 0, result.output
    widest = max(map(width_of, result.stdout.splitlines()))
    assert 60 < widest <= 100 or command == "needles"  # whose table is short
    assert widest <= 100


@pytest.mark.skipif(os.name != "posix", reason="needs a terminal of its own: POSIX only")
@pytest.mark.parametrize("columns", [60, 120])
@pytest.mark.parametrize("command", ["tray", "shelf", "needles", "reach", "editions show"])
def test_a_terminal_is_followed(command: str, columns: int, tmp_path: Path):
    ours, theirs = os.openpty()
    done = subprocess.Popen(
        [
            *(sys.executable, "-c", "from traywise.cli import main; main()"),
            *words_of(command, tmp_path),
        ],
        stdout=theirs,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "COLUMNS": str(columns), "PYTHONIOENCODING": "utf-8"},
    )
    os.close(theirs)
    shown = b""
    with contextlib.suppress(OSError):  # Linux ends a terminal so
        while piece := os.read(ours, 65536):
            shown += piece
    os.close(ours)
    assert done.wait() == 0
    widest = max(map(width_of, shown.decode().replace("\r", "").splitlines()))
    assert widest <= columns
    assert columns < 120 or command == "needles" or widest > 100
