"""What several commands read from the command line: days, editions, record files, shelves."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from traywise.errors import RulebookError, format_fault
from traywise.record.read_json import read_children
from traywise.record.result import ReadResult
from traywise.rulebook.edition import load_edition

DAY = click.DateTime(formats=["%Y-%m-%d"])


def read_file_bytes(path: Path) -> bytes:
    """The content of a file or of standard input; a clear message and exit 2 when unreadable."""
    try:
        return sys.stdin.buffer.read() if str(path) == "-" else path.read_bytes()
    except OSError as error:
        raise click.UsageError(f"{path} cannot be read: {error.strerror}.") from None


def read_records(path: Path) -> ReadResult:
    """Children of a file of any known kind."""
    name = "standard input" if str(path) == "-" else path.name
    return read_children(read_file_bytes(path), name)


def edition_name(name: str) -> str:
    """The name, when such an edition loads; all its faults and exit 2 when it does not."""
    try:
        load_edition(name)
    except RulebookError as error:
        shown = "\n".join(format_fault(fault) for fault in error.faults)
        raise click.UsageError(f"The edition cannot be used.\n{shown}") from None
    return name
