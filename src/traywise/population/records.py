"""A population file as records, for questions that want each child's whole answer.

In: the Parquet file of ``population make``. Out: a ``ReadResult`` like that of any other
file of children, so that no caller needs to know the difference. For millions use the
compiled gait; this reads every child into an object of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pyarrow as pa

from traywise.errors import Fault, InputError
from traywise.population.batches import wanted_columns
from traywise.population.parts import open_parquet
from traywise.record.child import Child, Condition, CvxCode, DoseGiven
from traywise.record.result import Entry, ReadResult

MAGIC = b"PAR1"


def is_population(path: Path) -> bool:
    """Whether a file begins as Parquet does.

    >>> is_population(Path(__file__))
    False
    """
    try:
        with path.open("rb") as handle:
            return handle.read(len(MAGIC)) == MAGIC
    except OSError:
        return False


def read_records(path: Path) -> ReadResult:
    """The children of a population file; those without a date of birth are set aside.

    raises  InputError when the columns are not those of a population
    """
    try:
        file = open_parquet(path)
    except InputError as error:
        return ReadResult(faults=error.faults)
    try:
        columns = wanted_columns(file.schema_arrow.names, path.name)
        rows = file.read(columns=columns).to_pylist()
    except (OSError, pa.ArrowException) as error:
        reason = str(error).splitlines()[0].rstrip(".")
        text = f"Cannot be read as Parquet: {reason}. Check the name, or write the file anew."
        return ReadResult(faults=(Fault("population.E001", path.name, text),))
    return ReadResult(entries=tuple(_entry(row, path.name, n) for n, row in enumerate(rows, 1)))


def _entry(row: Mapping[str, Any], name: str, number: int) -> Entry:
    at = f"{name}, row {number}"
    if row.get("id") is None or row.get("born") is None:
        fault = Fault("population.E010", at, "No id or no date of birth. Fill in both.")
        return Entry(id=row.get("id"), at=at, child=None, faults=(fault,))
    doses = zip(row.get("dose_on") or (), row.get("dose_cvx") or (), strict=True)
    child = Child(
        id=str(row["id"]),
        born=row["born"],
        sex=row.get("sex"),
        gestation_weeks=row.get("gestation_weeks"),
        birth_weight_g=row.get("birth_weight_g"),
        doses=tuple(
            DoseGiven(on=on, cvx=CvxCode(str(cvx).zfill(2)))
            for on, cvx in doses
            if on is not None and cvx is not None
        ),
        conditions=_conditions(row),
    )
    return Entry(id=child.id, at=at, child=child)


def _conditions(row: Mapping[str, Any]) -> tuple[Condition, ...]:
    keys = row.get("conditions") or ()
    nowhere = (None,) * len(keys)
    first = row.get("condition_from") or nowhere
    last = row.get("condition_until") or nowhere
    return tuple(
        Condition(key=key, since=since, until=until)
        for key, since, until in zip(keys, first, last, strict=True)
        if key
    )
