"""Where a population file may be written: to an ordinary file that the same work does not read.

A finished file is moved to its name, which would put it in the place of a device or pipe, or
of the very children it was made from. So every way in asks here before any work is done.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from traywise.errors import Fault, InputError


def check_target(target: Path, sources: Sequence[Path] = ()) -> None:
    """Raises InputError where a target cannot be written, or must not be.

    sources  what the work reads
    """
    text = ""
    if str(target) == "-":
        text = "Parquet is written from both ends and cannot go to standard output. Name a file."
    elif target.is_dir():
        text = "This is a folder. Name a file in it."
    elif target.exists() and not target.is_file():
        text = "This is no ordinary file. Choose another name."
    elif not target.absolute().parent.is_dir():
        text = f"There is no folder {target.parent}. Make it, or choose another place."
    if text:
        raise InputError([Fault("population.E022", str(target), text)])
    if any(_same(target, source) for source in sources):
        text = "This file is read by the same work. Choose another name for what is written."
        raise InputError([Fault("population.E023", str(target), text)])


def _same(target: Path, source: Path) -> bool:
    try:
        return target.samefile(source)
    except OSError:
        return False
