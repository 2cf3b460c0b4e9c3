"""Answers of the compiled rules as Arrow columns: the shape of a file of answers."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from traywise.population.arrays import Answers, Ints
from traywise.population.batches import WORDS
from traywise.schedule.assess import STATUS_OF

STATUSES = tuple(STATUS_OF[number] for number in sorted(STATUS_OF))
_STATUS_WORDS = pa.array(STATUSES, pa.string())
FIELDS = ("status", "next_dose", "earliest", "due", "overdue")


def answer_schema(groups: tuple[str, ...], metadata: dict[str, str]) -> pa.Schema:
    """``id``, ``born`` and for each group ``<group>_status``, ``_next_dose``, ``_earliest`` ..."""
    types = (WORDS, pa.uint8(), pa.date32(), pa.date32(), pa.date32())
    fields = [("id", pa.string()), ("born", pa.date32())]
    fields += [
        (f"{group}_{field}", kind)
        for group in groups
        for field, kind in zip(FIELDS, types, strict=True)
    ]
    return pa.schema(fields, metadata={f"traywise.{key}": metadata[key] for key in metadata})


def write_answers(batch: pa.RecordBatch, answers: Answers, schema: pa.Schema) -> pa.RecordBatch:
    """Answers as Arrow columns, without copying them."""
    count = batch.num_rows
    columns: list[pa.Array] = [
        batch.column("id").cast(pa.string()),
        batch.column("born").cast(pa.date32()),
    ]
    missing = answers.status < 0
    for g in range(answers.status.shape[0]):
        columns.append(_statuses(answers.status[g], missing[g]))
        for bits, values, kind in (
            (answers.has_dose[g], answers.dose[g], pa.uint8()),
            (answers.has_dose[g], answers.earliest[g], pa.date32()),
            (answers.has_dose[g], answers.due[g], pa.date32()),
            (answers.has_overdue[g], answers.overdue[g], pa.date32()),
        ):
            buffers = [pa.py_buffer(bits), pa.py_buffer(values)]
            columns.append(pa.Array.from_buffers(kind, count, buffers))
    return pa.RecordBatch.from_arrays(columns, schema=schema)


def _statuses(codes: Ints, missing: npt.NDArray[np.bool_]) -> pa.DictionaryArray:
    indices = pa.array(codes, pa.int8(), mask=missing) if missing.any() else pa.array(codes)
    return pa.DictionaryArray.from_arrays(indices, _STATUS_WORDS)
