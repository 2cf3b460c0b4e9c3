"""``traywise population``: invented children, and answers for millions."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import click

from traywise.cli.input import DAY, edition_name
from traywise.errors import InputError, format_fault

Command = Callable[..., Any]
FILE = click.Path(dir_okay=False, path_type=Path)


@click.group()
def population() -> None:
    """Invented populations, every child's answer, coverage, recall, edition against edition.

    Works on Parquet files of any size. Decision support, not a prescriber: contraindications
    are not looked at here; check every child with traywise tray before giving a dose.
    """
    missing = [name for name in ("numpy", "numba", "pyarrow") if find_spec(name) is None]
    if missing:
        raise click.ClickException(
            f"{', '.join(missing)} is not installed. Run: pip install 'traywise[population]'"
        )


def _workers(command: Command) -> Command:
    return click.option(
        "--workers",
        type=click.IntRange(1, 256),
        default=lambda: os.cpu_count() or 1,
        show_default="one per core",
        help="Threads that work side by side; each holds some 150 MB.",
    )(command)


def _on(command: Command) -> Command:
    return click.option("--on", type=DAY, help="Day to answer for; default: today.")(command)


def _day(on: datetime | None) -> date:
    return on.date() if on else date.today()


@contextmanager
def _long_work(total: int, label: str) -> Iterator[Callable[[int], None]]:
    """A progress bar on standard error; faults and interruptions in words."""
    try:
        bar: Any = click.progressbar(
            length=total, label=label, file=click.get_text_stream("stderr"), show_pos=True
        )
        with bar:
            yield bar.update
    except InputError as error:
        for fault in error.faults:
            click.echo(format_fault(fault), err=True)
        raise SystemExit(2) from None
    except KeyboardInterrupt:
        click.echo(
            "\nStopped. What is finished is kept; the same command run again goes on from there.",
            err=True,
        )
        raise SystemExit(130) from None
    except OSError as error:
        raise click.ClickException(f"{error.filename or 'A file'}: {error.strerror}.") from None


@population.command()
@click.argument("count", type=click.IntRange(0, 10**9), metavar="N")
@click.argument("out", type=FILE)
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True)
@_on
@_workers
def make(count: int, out: Path, seed: int, on: datetime | None, workers: int) -> None:
    """Invent N children with late, missed, wrong and lost doses; write them to OUT (Parquet).

    The same seed and day always give the same children. The file says that it is invented.
    """
    from traywise.population.make import make_file

    with _long_work(count, "Inventing children") as progress:
        make_file(count, out, seed, _day(on), workers, progress)


@population.command()
@click.argument("source", type=FILE, metavar="IN")
@click.argument("out", type=FILE)
@click.option("--edition", default="us-2025", show_default=True, help="Edition, overlays by +.")
@_on
@_workers
def forecast(source: Path, out: Path, edition: str, on: datetime | None, workers: int) -> None:
    """Every child's answer: status and next dates in every group, from IN to OUT (Parquet).

    Exit status: 0 every child answered, 1 some were not, 2 a file that cannot be used.
    """
    name = edition_name(edition)
    from traywise.population.forecast import forecast_file
    from traywise.population.parts import count_rows

    with _long_work(_total(count_rows, source), "Answering") as progress:
        remarks = forecast_file(source, out, name, _day(on), workers, progress)
    for line in remarks.lines():
        click.echo(line, err=True)
    raise SystemExit(1 if remarks.without_birth_date else 0)


def _total(count_rows: Callable[[Path], int], source: Path) -> int:
    """The number of children, before the bar is drawn."""
    try:
        return count_rows(source)
    except InputError as error:
        for fault in error.faults:
            click.echo(format_fault(fault), err=True)
        raise SystemExit(2) from None
