"""Many files at once: on the cores of this machine, or on a Dask cluster that sees the files.

Each file is one task and is answered as ``forecast.forecast_file`` answers it, so a task that
is run again goes on where it stopped. A file with a fault does not stop the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from importlib import import_module
from pathlib import Path
from typing import Any

import msgspec
from dask.base import compute
from dask.delayed import delayed

from traywise.errors import Fault, InputError, TraywiseError
from traywise.population.batches import Remarks
from traywise.population.forecast import forecast_file
from traywise.population.target import check_target

LOCAL = "local"


class FileDone(msgspec.Struct, frozen=True):
    """One file: what it could not use, or the faults for which it was not answered."""

    source: str
    remarks: Remarks | None
    faults: tuple[Fault, ...] = ()


def forecast_many(
    sources: Sequence[Path], folder: Path, edition: str, on: date, cluster: str = LOCAL
) -> list[FileDone]:
    """Answer each file into a file of the same name in ``folder``, in the order given.

    cluster  LOCAL, or the address of a Dask scheduler whose workers see the same paths
    raises   InputError when two files have one name, answers would replace what is read, or
             the cluster cannot be reached
    """
    names = [source.name for source in sources]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        text = f"{', '.join(twice)} comes more than once; answers would overwrite each other."
        raise InputError([Fault("population.E020", str(folder), text)])
    folder.mkdir(parents=True, exist_ok=True)
    for source in sources:
        check_target(folder / source.name, sources)
    task = delayed(_answer_file, pure=False)
    tasks = [task(str(source), str(folder / source.name), edition, on) for source in sources]
    if cluster == LOCAL:
        return list(compute(*tasks, scheduler="processes"))  # type: ignore[no-untyped-call]
    with _client(cluster) as client:
        return list(client.gather(client.compute(tasks)))


def _client(address: str) -> Any:
    """The cluster at an address; the package for it is not part of the install."""
    try:
        return import_module("distributed").Client(address, timeout=20)
    except ImportError:
        text = "A cluster needs the package distributed. Run: pip install distributed"
    except (OSError, ValueError) as error:
        text = f"The cluster does not answer: {error}. Check the address, such as tcp://host:8786."
    raise InputError([Fault("population.E021", address, text)])


def _answer_file(source: str, target: str, edition: str, on: date) -> FileDone:
    """One task; faults come back as values, for they must cross processes."""
    try:
        remarks = forecast_file(Path(source), Path(target), edition, on, 1, lambda _: None)
    except TraywiseError as error:
        return FileDone(source, None, error.faults)
    return FileDone(source, remarks)
