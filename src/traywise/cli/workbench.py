"""``traywise workbench backup|restore``: the clinic's data into one file and back."""

from __future__ import annotations

import os
from pathlib import Path

import click

from traywise.errors import InputError, format_fault


@click.group()
def workbench() -> None:
    """Back up and restore the workbench."""


def _refuse(error: InputError) -> None:
    for fault in error.faults:
        click.echo(format_fault(fault), err=True)
    raise SystemExit(1)


@workbench.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
def backup(file: Path) -> None:
    """Write everything into FILE (.tar.gz). It holds children's data and the clinic's keys."""
    from traywise.workbench import serving
    from traywise.workbench.backup import back_up

    serving.prepare()
    try:
        count = back_up(file)
    except InputError as error:
        _refuse(error)
    else:
        click.echo(f"{count} rows written to {file}. Keep it where children's data are kept.")


@workbench.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
def restore(file: Path) -> None:
    """Bring FILE back into an empty TRAYWISE_HOME and database; seals are checked first."""
    from traywise.workbench import serving
    from traywise.workbench.backup import put_keys_back, read_backup
    from traywise.workbench.backup import restore as bring_back

    keys: Path | None = None
    try:
        parts = read_backup(file)
        if "TRAYWISE_CHAIN_KEY" not in os.environ:
            keys = put_keys_back(parts, serving.default_home())
        serving.prepare()
        count = bring_back(parts)
    except InputError as error:
        if keys is not None:
            keys.unlink()  # nothing was restored: the folder is free for another try
        _refuse(error)
    else:
        click.echo(f"{count} rows restored; the seals of ledger and trail hold.")
