"""``traywise population``: invented children, and answers for millions."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import click
from click.termui import progressbar

from traywise.cli.input import edition_name
from traywise.cli.option_types import DAY
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
        help="Threads that work side by side; each holds some 100 MB.",
    )(command)


def _on(command: Command) -> Command:
    return click.option("--on", type=DAY, help="Day to answer for; default: today.")(command)


def _day(on: datetime | None) -> date:
    return on.date() if on else date.today()


@contextmanager
def _long_work(total: int, label: str) -> Iterator[Callable[[int], None]]:
    """A progress bar on standard error; faults and interruptions in words."""
    try:
        bar = progressbar(length=total, label=label, file=sys.stderr, show_pos=True)
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
        raise click.UsageError(f"{error.filename or 'A file'}: {error.strerror}.") from None


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
    from traywise.population.target import check_target

    with _faults():  # before the bar is drawn
        check_target(out)
    with _long_work(count, "Inventing children") as progress:
        make_file(count, out, seed, _day(on), workers, progress)
    click.echo(f"Wrote {count:,} invented children to {out}.", err=True)


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
    from traywise.population.target import check_target

    with _faults():
        check_target(out, [source])
    with _long_work(_total(count_rows, source), "Answering") as progress:
        remarks = forecast_file(source, out, name, _day(on), workers, progress)
    click.echo(f"Wrote the answers of {remarks.children:,} children to {out}.", err=True)
    for line in remarks.lines():
        click.echo(line, err=True)
    raise SystemExit(1 if remarks.without_birth_date else 0)


@population.command("forecast-many")
@click.argument("sources", type=FILE, metavar="IN...", nargs=-1, required=True)
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
@click.option("--edition", default="us-2025", show_default=True, help="Edition, overlays by +.")
@_on
@click.option(
    "--cluster", default="local", show_default=True, help="Address of a Dask scheduler, or local."
)
def forecast_many(
    sources: tuple[Path, ...], folder: Path, edition: str, on: datetime | None, cluster: str
) -> None:
    """Answer several files at once, each into a file of its name in FOLDER.

    On a cluster, all machines must see the files under the same paths. Exit status as forecast.
    """
    name = edition_name(edition)
    from traywise.population import cluster as many

    with _faults():
        results = many.forecast_many(sources, folder, name, _day(on), cluster)
    worst = 0
    for done in results:
        lines = [format_fault(fault) for fault in done.faults]
        worst = max(worst, 2 if lines else 0)
        if done.remarks is not None:
            lines = done.remarks.lines()
            worst = max(worst, 1 if done.remarks.without_birth_date else 0)
        for line in lines:
            click.echo(f"{done.source}: {line}", err=True)
    raise SystemExit(worst)


GROUP = click.option(
    "--group", "groups", multiple=True, help="Only this group; may be given several times."
)
JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


@population.command()
@click.argument("answers", type=FILE)
@GROUP
@JSON
def coverage(answers: Path, groups: tuple[str, ...], as_json: bool) -> None:
    """Share of children up to date by group and year of age, from a file of ANSWERS.

    Up to date: nothing is due today. Children whom a group does not concern (aged out, not
    recommended, the clinician decides) are not counted in its share.
    """
    import msgspec

    from traywise.population.coverage import coverage_of

    with _faults():
        found = coverage_of(answers, groups)
    if as_json:
        click.echo(msgspec.json.encode(found))
        return
    click.echo(f"{found.children} children, {found.edition}, on {found.assess_on}")
    click.echo(f"{'group':<10}{'age':>4}{'up to date':>12}{'behind':>10}{'share':>8}")
    for row in found.shares:
        share = "-" if row.share is None else f"{row.share:.1%}"
        line = f"{row.group:<10}{row.age_years:>4}{row.up_to_date:>12}{row.behind:>10}{share:>8}"
        click.echo(line)


@population.command()
@click.argument("answers", type=FILE)
@GROUP
@click.option("--overdue-days", type=click.IntRange(0), default=0, help="Overdue for so long.")
@click.option("--limit", type=click.IntRange(1), help="At most so many children.")
@JSON
def recall(
    answers: Path, groups: tuple[str, ...], overdue_days: int, limit: int | None, as_json: bool
) -> None:
    """Whom to call, longest overdue first, from a file of ANSWERS; CSV, or JSON lines."""
    import csv

    import msgspec

    from traywise.population.recall import calls_of

    with _faults():
        calls = calls_of(answers, groups, overdue_days, limit)
    out = sys.stdout
    if as_json:
        for call in calls:
            out.write(msgspec.json.encode(call).decode() + "\n")
        return
    table = csv.writer(out)
    table.writerow(["id", "born", "days_overdue", "overdue", "also_due"])
    for call in calls:
        late = "; ".join(f"{group} since {day}" for group, day in call.overdue.items())
        table.writerow([call.id, call.born, call.days_overdue, late, "; ".join(call.also_due)])


@population.command()
@click.argument("source", type=FILE, metavar="IN")
@click.argument("before")
@click.argument("after")
@_on
@_workers
@JSON
def compare(
    source: Path, before: str, after: str, on: datetime | None, workers: int, as_json: bool
) -> None:
    """Two editions on the children of IN: how many answers change, in which group, and how."""
    import msgspec

    names = edition_name(before), edition_name(after)
    from traywise.population.compare import compare_editions
    from traywise.population.parts import count_rows

    with _long_work(_total(count_rows, source), "Comparing") as progress:
        found = compare_editions(source, *names, _day(on), workers, progress)
    if as_json:
        click.echo(msgspec.json.encode(found))
        return
    click.echo(
        f"{found.changed_children} of {found.children} children get another answer under "
        f"{found.after} than under {found.before}, on {found.assess_on}."
    )
    for label, groups in (("before", found.only_before), ("after", found.only_after)):
        if groups:
            click.echo(f"Only {label}, not compared: {', '.join(groups)}.")
    for row in found.changes:
        same = "dates or number of the next dose differ" if row.before == row.after else row.after
        click.echo(f"{row.group:<10}{row.children:>10}  {row.before} -> {same}")
    if found.first_changed:
        click.echo(f"First of them: {', '.join(found.first_changed)}")


@contextmanager
def _faults() -> Iterator[None]:
    """Faults of a file in words, exit status 2."""
    try:
        yield
    except InputError as error:
        for fault in error.faults:
            click.echo(format_fault(fault), err=True)
        raise SystemExit(2) from None


def _total(count_rows: Callable[[Path], int], source: Path) -> int:
    """The number of children, before the bar is drawn."""
    with _faults():
        return count_rows(source)
    raise AssertionError  # _faults has left
