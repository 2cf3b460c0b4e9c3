"""Where the commands write: the screen in its width; files never over what is read.

A refusing disk is told in words.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import click


def screen_width() -> int:
    """Columns of the terminal within limits; a file or another program gets the usual width."""
    # Imported late: a command that writes JSON draws no page.
    from traywise.paper.columns import NARROWEST, WIDEST, WIDTH

    if sys.stdout is None or not sys.stdout.isatty():
        return WIDTH
    import shutil  # late: it brings every way to pack a file

    columns = shutil.get_terminal_size((WIDTH, 24)).columns
    return min(max(columns, NARROWEST), WIDEST)


def keep_inputs(written: Sequence[Path], read: Sequence[Path | None]) -> None:
    """Exit 2 before anything is done when a file to be written is one that is read."""
    known = [path for path in read if path is not None]
    for out in written:
        if any(_same(out, path) for path in known):
            raise click.UsageError(
                f"{out} is read by this command too. Choose another name for it."
            )


def _same(out: Path, path: Path) -> bool:
    try:
        return out.samefile(path)
    except OSError:
        return False


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """What is written to ``path`` or into it; when that fails, the reason and exit 2."""
    try:
        yield
    except OSError as error:
        where = error.filename or path
        raise click.UsageError(
            f"{where} cannot be written: {error.strerror}. Choose another place."
        ) from None


def make_folder(folder: Path) -> None:
    """The folder and those above it, or the reason why not and exit 2."""
    with writing(folder):
        folder.mkdir(parents=True, exist_ok=True)
