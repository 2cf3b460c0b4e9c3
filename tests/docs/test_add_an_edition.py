"""docs/add-an-edition.md, followed step by step in an empty folder.

A ``toml`` or ``json`` block that begins with ``# file: NAME`` is written, one with ``# add to:
NAME`` is added to it; the lines of an ``sh`` block are run; each line of a ``text`` block must
then stand in the output.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from traywise.cli import main
from traywise.rulebook.tables import EDITIONS

PAGE = Path(__file__).resolve().parents[2] / "docs" / "add-an-edition.md"
BLOCK = re.compile(r"^( *)```(\w+)\n(.*?)^ *```$", re.MULTILINE | re.DOTALL)


def blocks() -> Iterator[tuple[str, str]]:
    for indent, kind, body in BLOCK.findall(PAGE.read_text(encoding="utf-8")):
        yield kind, "".join(line.removeprefix(indent) for line in body.splitlines(keepends=True))


def write(folder: Path, body: str) -> None:
    first, _, rest = body.partition("\n")
    how, _, name = first.removeprefix("# ").partition(": ")
    assert how in ("file", "add to"), first
    path = folder / name
    before = path.read_text(encoding="utf-8") + "\n" if how == "add to" else ""
    path.write_text(before + rest, encoding="utf-8")


def run(command: str) -> str:
    name, *words = shlex.split(command)
    assert name == "traywise", command
    words = [word.replace("EDITIONS", str(EDITIONS)) for word in words]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, f"{command}\n{result.output}"
    return result.output


def test_the_page_works_when_followed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(tmp_path)
    output = ""
    counts = dict.fromkeys(("toml", "json", "sh", "text"), 0)
    for kind, body in blocks():
        counts[kind] += 1
        if kind == "sh":
            output = "".join(run(line) for line in body.splitlines())
        elif kind == "text":
            for line in body.splitlines():
                assert line in output, f"{line}\n--- not in ---\n{output}"
        else:
            write(tmp_path, body)
    assert counts["toml"] == 3
    assert counts["sh"] >= 8
    assert counts["text"] >= 7


def test_its_steps_are_numbered_without_gaps():
    numbers: list[int] = []
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            assert numbers == list(range(1, len(numbers) + 1))
            numbers = []
        found = re.match(r"(\d+)\. ", line)
        if found:
            numbers.append(int(found[1]))
    assert numbers == list(range(1, len(numbers) + 1))
