"""A population file as records, for questions that want each child's whole answer.

In: the Parquet file of ``population make``. Out: a ``ReadResult`` like that of any other
file of children, so that no caller needs to know the difference. For millions use the
compiled gait; this reads every child into an object of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pyarrow as pa

from traywise.errors import Fault, InputError
from traywise.population.batches import wanted_columns
from traywise.population.parts import open_parquet
from traywise.record.child import Child, Condition, CvxCode, DoseGiven, ProductReceived
from traywise.record.result import Entry, ReadResult

MAGIC = b"PAR1"

_TOGETHER = (
    ("dose_on", "dose_cvx"),
    ("conditions", "condition_from", "condition_until"),
    ("product_on", "product_kind"),
)
_DAYS = ("dose_on", "condition_from", "condition_until", "product_on")


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
    faults = _faults(row, at)
    if faults:
        return Entry(id=row.get("id"), at=at, child=None, faults=faults)
    child = Child(
        id=str(row["id"]),
        born=_day(row["born"]),
        sex=row.get("sex"),
        gestation_weeks=row.get("gestation_weeks"),
        birth_weight_g=row.get("birth_weight_g"),
        doses=tuple(
            DoseGiven(on=_day(on), cvx=CvxCode(str(cvx).zfill(2)))
            for on, cvx in _side_by_side(row, "dose_on", "dose_cvx")
            if on is not None and cvx is not None
        ),
        conditions=tuple(
            Condition(key=key, since=_day(since), until=_day(until))
            for key, since, until in _side_by_side(
                row, "conditions", "condition_from", "condition_until"
            )
            if key
        ),
        products=tuple(
            ProductReceived(on=_day(on), kind=kind)
            for on, kind in _side_by_side(row, "product_on", "product_kind")
            if on is not None and kind is not None
        ),
    )
    return Entry(id=child.id, at=at, child=child)


def _faults(row: Mapping[str, Any], at: str) -> tuple[Fault, ...]:
    if row.get("id") is None or row.get("born") is None:
        return (Fault("population.E010", at, "No id or no date of birth. Fill in both."),)
    for names in _TOGETHER:
        lengths = {len(row[name]) for name in names if row.get(name) is not None}
        if len(lengths) > 1:
            text = f"{', '.join(names)} differ in length. Write as many entries in each."
            return (Fault("population.E013", at, text),)
    days = [row["born"], *(day for name in _DAYS for day in row.get(name) or ())]
    strange = next((day for day in days if not isinstance(day, date | None)), None)
    if strange is not None:
        return (Fault("population.E012", at, f'"{strange}" is no date. Write dates (date32).'),)
    return ()


def _side_by_side(row: Mapping[str, Any], *names: str) -> Iterator[tuple[Any, ...]]:
    """The entries of list columns that go together; an absent column is all unknown."""
    lists = [row.get(name) for name in names]
    length = max((len(one) for one in lists if one is not None), default=0)
    return zip(*(one or (None,) * length for one in lists), strict=True)


def _day(value: Any) -> Any:
    """A date without the time of day that some programs add."""
    return value.date() if isinstance(value, datetime) else value
