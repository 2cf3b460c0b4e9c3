"""Reads answer files back: statuses and days of each group, batch by batch."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from difflib import get_close_matches
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet as pq

from traywise.errors import Fault, InputError
from traywise.population.answer_columns import STATUSES
from traywise.population.parts import PART_ROWS, open_parquet

Ints = npt.NDArray[Any]
UNKNOWN = len(STATUSES)
"""Stands for a child who could not be answered."""

UP_TO_DATE = ("not yet", "complete", "immune")
"""Nothing is due. Clinical questions aside, such a child needs no appointment for the group."""

BEHIND = ("due", "overdue", "deferred")
"""A dose is due. With UP_TO_DATE the children whom the group concerns."""


class AnswerFile(NamedTuple):
    """A file of answers: its groups, edition and day."""

    file: pq.ParquetFile
    groups: tuple[str, ...]
    edition: str
    assess_on: date


def open_answers(path: Path) -> AnswerFile:
    """The file, or InputError when it is not one that traywise population forecast wrote."""
    file = open_parquet(path)
    metadata = file.schema_arrow.metadata or {}
    groups = tuple(
        name.removesuffix("_status") for name in file.schema_arrow.names if name.endswith("_status")
    )
    try:
        on = date.fromisoformat(metadata[b"traywise.assess_on"].decode())
        edition = metadata[b"traywise.edition"].decode()
    except (KeyError, ValueError):
        text = "This is no file of answers. Make one with: traywise population forecast IN OUT"
        raise InputError([Fault("population.E003", path.name, text)]) from None
    return AnswerFile(file, groups, edition, on)


def chosen_groups(answers: AnswerFile, wanted: tuple[str, ...]) -> tuple[str, ...]:
    """The wanted groups in either case, all when none is named.

    raises  InputError for each that is unknown, with the nearest and all that there are
    """
    known = {group.casefold(): group for group in answers.groups}
    faults = []
    for group in wanted:
        if group.casefold() not in known:
            near = get_close_matches(group.casefold(), known, n=1)
            nearest = f" Did you mean {known[near[0]]}?" if near else ""
            text = f'There is no group "{group}".{nearest} Groups: {", ".join(answers.groups)}.'
            faults.append(Fault("population.E004", "--group", text))
    if faults:
        raise InputError(faults)
    # Each once, however often it was named.
    return tuple(dict.fromkeys(known[group.casefold()] for group in wanted)) or answers.groups


def batches_of(answers: AnswerFile, columns: list[str]) -> Iterator[pa.RecordBatch]:
    """The columns, some hundred thousand children at a time."""
    yield from answers.file.iter_batches(PART_ROWS, columns=columns)


def statuses(column: pa.Array) -> Ints:
    """Each child's status as its place in STATUSES, UNKNOWN for null."""
    if not pa.types.is_dictionary(column.type):
        column = column.dictionary_encode()
    words = column.dictionary.to_pylist()
    place = [STATUSES.index(word) if word in STATUSES else UNKNOWN for word in words]
    table = np.array([*place, UNKNOWN], np.int8)
    found: Ints = table[column.indices.fill_null(len(words)).to_numpy(zero_copy_only=False)]
    return found


def age_years(born: pa.Array, on: date) -> Ints:
    """Completed years on a day, -1 where the date of birth is not known."""
    days = born.cast(pa.date32()).to_numpy(zero_copy_only=False).astype("datetime64[D]")
    months = days.astype("datetime64[M]")
    day_of_month = (days - months).astype(np.int64) + 1
    past = (on.year - 1970) * 12 + on.month - 1 - months.astype(np.int64)
    past -= day_of_month > on.day
    years: Ints = np.where(np.isnat(days) | (past < 0), -1, past // 12)
    return years
