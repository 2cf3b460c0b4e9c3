"""Children from Arrow record batches, and answers back into them.

In: the columns of ``CHILDREN``; only ``id`` and ``born`` must be there, ``dose_on``
and ``dose_cvx`` go together. Codes may be numbers, text or dictionaries of text.
Out: the columns of ``answer_schema``. What cannot be used is counted in ``Remarks``
and left out, never guessed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from typing import Any

import msgspec
import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from traywise.calendar import FIRST_YEAR, LAST_YEAR
from traywise.errors import Fault, InputError
from traywise.population.arrays import NO_DAY, Children, Rules
from traywise.rulebook.antibody_products import antibody_products
from traywise.rulebook.conditions import conditions
from traywise.schedule.assess import flags_of_keys
from traywise.schedule.compile import Compiled
from traywise.schedule.row_numbers import SEXES

Ints = npt.NDArray[Any]

WORDS = pa.dictionary(pa.int8(), pa.string())
LONG_WORDS = pa.dictionary(pa.int16(), pa.string())

CHILDREN = pa.schema(
    [
        ("id", pa.string()),
        ("born", pa.date32()),
        ("sex", WORDS),
        ("gestation_weeks", pa.uint8()),
        ("birth_weight_g", pa.uint16()),
        ("dose_on", pa.list_(pa.date32())),
        ("dose_cvx", pa.list_(pa.uint16())),
        ("conditions", pa.list_(LONG_WORDS)),
        ("condition_from", pa.list_(pa.date32())),
        ("condition_until", pa.list_(pa.date32())),
        ("product_on", pa.list_(pa.date32())),
        ("product_kind", pa.list_(LONG_WORDS)),
    ]
)
"""A population file; ``birth_weight_g``, the days of the conditions and the antibody products
may be left out. A condition without its first day holds since ever, without its last for ever.
"""

EPOCH = date(1970, 1, 1).toordinal()

# Spans of an edition reach back and forth from a child's dates; outside these years the
# month tables would not hold the result.
_FIRST_BORN = date(FIRST_YEAR + 2, 1, 1)
_LAST_DAY = date(LAST_YEAR - 40, 12, 31)


class Remarks(msgspec.Struct):
    """What a run could not use: counts, for unknown words by word."""

    children: int = 0
    without_birth_date: int = 0
    incomplete_doses: int = 0
    unknown_codes: dict[str, int] = {}
    unknown_conditions: dict[str, int] = {}
    unknown_products: dict[str, int] = {}

    def add(self, other: Remarks) -> None:
        """Count another run's remarks in."""
        for field in msgspec.structs.fields(self):
            mine, theirs = getattr(self, field.name), getattr(other, field.name)
            if isinstance(mine, dict):
                for word, count in theirs.items():
                    mine[word] = mine.get(word, 0) + count
            else:
                setattr(self, field.name, mine + theirs)

    def lines(self) -> list[str]:
        """What was left out, a sentence each."""
        said = []
        if self.without_birth_date:
            said.append(
                f"{self.without_birth_date} of {self.children} children have no usable date of "
                "birth and were not answered."
            )
        if self.incomplete_doses:
            said.append(f"{self.incomplete_doses} doses without day or code were left out.")
        for what, found in (
            ("CVX code", self.unknown_codes),
            ("condition", self.unknown_conditions),
            ("antibody product", self.unknown_products),
        ):
            words = sorted(found, key=lambda word: (-found[word], word))
            if words:
                more = f" and {len(words) - 5} more" if len(words) > 5 else ""
                shown = ", ".join(f"{word} ({found[word]} times)" for word in words[:5])
                said.append(f"Unknown {what}, counted for nothing: {shown}{more}.")
        return said


def wanted_columns(names: Iterable[str], where: str) -> list[str]:
    """The columns to read of a population file; raises InputError when it is none."""
    present = set(names)
    missing = [name for name in ("id", "born") if name not in present]
    for one, other in (("dose_on", "dose_cvx"), ("product_on", "product_kind")):
        if (one in present) != (other in present):
            missing.append(one if other in present else other)
    if missing:
        text = f"There is no column {', '.join(missing)}. Columns: {', '.join(CHILDREN.names)}."
        raise InputError([Fault("population.E010", where, text)])
    if "dose_on" not in present and any(name.endswith("_status") for name in present):
        text = "This file holds answers, not children. Give the file the answers were made from."
        raise InputError([Fault("population.E010", where, text)])
    return [name for name in CHILDREN.names if name in present]


def read_children(
    batch: pa.RecordBatch, rules: Rules, source: Compiled, on: date
) -> tuple[Children, Remarks]:
    """The batch as the compiled logic takes it; raises InputError when types do not fit."""
    remarks = Remarks(children=batch.num_rows)
    born, has_born = _days(batch.column("born"), "born")
    known = has_born & (born >= _epoch(_FIRST_BORN)) & (born <= _epoch(_LAST_DAY))
    remarks.without_birth_date = int(len(known) - known.sum())
    dose_starts, dose_day, dose_code = _doses(batch, rules, remarks)
    antibody_starts, antibody_day, antibody_months = _antibodies(batch, remarks)
    flags, events = _conditions(batch, source, remarks, on)
    children = Children(
        born=born,
        known=known.astype(np.uint8),
        sex=_sexes(batch),
        flags=flags,
        dose_starts=dose_starts,
        dose_day=dose_day,
        dose_code=dose_code,
        antibody_starts=antibody_starts,
        antibody_day=antibody_day,
        antibody_months=antibody_months,
        event_starts=events[0],
        event_bits=events[1],
        event_first=events[2],
        event_last=events[3],
    )
    return children, remarks


def check_day(on: date) -> None:
    """Raise InputError for a day of the answer that the calendar tables cannot serve."""
    if not _FIRST_BORN <= on <= _LAST_DAY:
        text = f"{on} is out of range. Write a day from {_FIRST_BORN} to {_LAST_DAY}."
        raise InputError([Fault("population.E011", "--on", text)])


def _epoch(day: date) -> int:
    return day.toordinal() - EPOCH


def _days(column: pa.Array, name: str) -> tuple[Ints, npt.NDArray[np.bool_]]:
    """Days from 1970-01-01 and whether each is there."""
    if pa.types.is_timestamp(column.type) or pa.types.is_date64(column.type):
        column = column.cast(pa.date32())
    if not pa.types.is_date32(column.type):
        text = f"Column {name} holds {column.type}. Write dates (date32)."
        raise InputError([Fault("population.E012", name, text)])
    present = (
        np.ones(len(column), np.bool_)
        if column.null_count == 0
        else column.is_valid().to_numpy(zero_copy_only=False)
    )
    values = column.view(pa.int32())
    if column.null_count:
        values = values.fill_null(0)
    return values.to_numpy(zero_copy_only=False), present


def _list(batch: pa.RecordBatch, name: str) -> tuple[Ints, pa.Array]:
    """Offsets from 0 and the flat values of a list column; an absent column is empty lists."""
    if name not in batch.schema.names:
        return np.zeros(batch.num_rows + 1, np.int32), pa.array([], pa.null())
    column = batch.column(name)
    if not (pa.types.is_list(column.type) or pa.types.is_large_list(column.type)):
        text = f"Column {name} holds {column.type}. Write lists."
        raise InputError([Fault("population.E012", name, text)])
    if column.null_count:
        # A null list may cover values; its lengths must not count.
        column = pc.if_else(column.is_valid(), column, pa.scalar([], column.type))
    offsets = column.offsets.to_numpy(zero_copy_only=False)
    return offsets - offsets[0], column.flatten()


def _by_word(
    values: pa.Array, number_of: Callable[[str], int | None], unknown: dict[str, int], missing: int
) -> Ints:
    """A number for each word of a dictionary or text column; unknown words are counted."""
    if len(values) == 0:
        return np.zeros(0, np.int64)
    if not pa.types.is_dictionary(values.type):
        values = values.cast(pa.string()).dictionary_encode()
    words = values.dictionary.cast(pa.string()).to_pylist()
    numbers = [number_of(word) for word in words]
    table = np.array([missing if n is None else n for n in numbers] + [missing], np.int64)
    at = values.indices.cast(pa.int64())
    if at.null_count:
        at = at.fill_null(len(words))
    places = at.to_numpy(zero_copy_only=False)
    if None in numbers:
        counts = np.bincount(places, minlength=len(words) + 1)
        for word, number, count in zip(words, numbers, counts, strict=False):
            if number is None and count:
                unknown[str(word)] = int(count)
    found: Ints = table[places]
    return found


def _doses(batch: pa.RecordBatch, rules: Rules, remarks: Remarks) -> tuple[Ints, Ints, Ints]:
    starts, days = _list(batch, "dose_on")
    code_starts, codes = _list(batch, "dose_cvx")
    _check_same(starts, code_starts, "dose_on", "dose_cvx")
    if len(days) == 0:
        return starts, np.zeros(0, np.int32), np.zeros(0, np.int16)
    day, present = _days(days, "dose_on")
    place = {code: number for number, code in enumerate(rules.codes)}
    unknown = len(rules.codes)
    if codes.null_count:
        present &= codes.is_valid().to_numpy(zero_copy_only=False)
    if pa.types.is_integer(codes.type):
        given = codes.fill_null(0).to_numpy(zero_copy_only=False)
        code = _codes_by_number(given, present, place, remarks)
    else:
        code = _by_word(
            codes, lambda word: place.get(word.strip().zfill(2)), remarks.unknown_codes, unknown
        ).astype(np.int16)
    if not present.all():
        remarks.incomplete_doses = int(len(present) - present.sum())
        # The day before the first possible birth: such a dose lies outside every life.
        day = np.where(present, day, _epoch(date(FIRST_YEAR, 1, 1))).astype(np.int32)
    return starts, day, code


def _codes_by_number(
    codes: Ints, present: npt.NDArray[np.bool_], place: dict[str, int], remarks: Remarks
) -> Ints:
    """The place of each code; unknown ones get the place behind the last and are counted."""
    numbers = {int(text): number for text, number in place.items() if text.isdigit()}
    table = np.full(max(numbers) + 2, len(place), np.int16)
    table[list(numbers)] = list(numbers.values())
    last = len(table) - 1
    if codes.max() > last or codes.min() < 0:
        # What lies outside the table stands at its end, where no code is.
        found: Ints = table[np.where((codes < 0) | (codes > last), last, codes)]
    else:
        found = table[codes]
    if found.max() == len(place):
        strange = codes[(found == len(place)) & present]
        for number, count in zip(*np.unique(strange, return_counts=True), strict=True):
            remarks.unknown_codes[f"{number:02d}"] = int(count)
    return found


def _check_same(one: Ints, other: Ints, name: str, other_name: str) -> None:
    different = np.flatnonzero(one != other)
    if len(different):
        text = (
            f"{name} and {other_name} differ in length, first in row {int(different[0])} of a "
            "batch. Write as many entries in one list as in the other."
        )
        raise InputError([Fault("population.E013", name, text)])


def _antibodies(batch: pa.RecordBatch, remarks: Remarks) -> tuple[Ints, Ints, Ints]:
    starts, days = _list(batch, "product_on")
    kind_starts, kinds = _list(batch, "product_kind")
    _check_same(starts, kind_starts, "product_on", "product_kind")
    if len(days) == 0:
        return starts, np.zeros(0, np.int32), np.zeros(0, np.int64)
    known = antibody_products()

    def months_of(kind: str) -> int | None:
        return known[kind].months or 0 if kind in known else None

    day, present = _days(days, "product_on")
    months = _by_word(kinds, months_of, remarks.unknown_products, 0)
    return starts, day, np.where(present, months, 0)


def _sexes(batch: pa.RecordBatch) -> Ints:
    if "sex" not in batch.schema.names:
        return np.zeros(batch.num_rows, np.int8)
    return _by_word(batch.column("sex"), SEXES.get, {}, 0).astype(np.int8)


Events = tuple[Ints, Ints, Ints, Ints]


def _conditions(
    batch: pa.RecordBatch, source: Compiled, remarks: Remarks, on: date
) -> tuple[Ints, Events]:
    """Bits of the conditions that hold on the day, and the dated ones: offsets, bits, days."""
    starts, values = _list(batch, "conditions")
    flags = np.zeros(batch.num_rows, np.int64)
    nothing = np.zeros(0, np.int64)
    events = (np.zeros(batch.num_rows + 1, np.int64), nothing, nothing, nothing)
    if len(values):
        bits = _by_word(
            values,
            lambda key: condition_flags(key, source),
            remarks.unknown_conditions,
            0,
        )
        if "condition_from" in batch.schema.names or "condition_until" in batch.schema.names:
            first = _condition_days(batch, "condition_from", starts)
            last = _condition_days(batch, "condition_until", starts)
            events = (starts, bits, first, last)
            today = _epoch(on)
            begun = (first == NO_DAY) | (first <= today)
            bits = np.where(begun & ((last == NO_DAY) | (last >= today)), bits, 0)
        filled = np.flatnonzero(np.diff(starts))
        flags[filled] = np.bitwise_or.reduceat(bits, starts[filled])
    for rule in source.edition.derived:
        if rule.field in batch.schema.names:
            column = batch.column(rule.field)
            below = pc.less(column, rule.below).fill_null(False)
            flags[below.to_numpy(zero_copy_only=False)] |= flags_of_keys([rule.key], source)
    return flags, events


def _condition_days(batch: pa.RecordBatch, name: str, starts: Ints) -> Ints:
    """A day for each condition, NO_DAY where it is not known or no day that people enter."""
    if name not in batch.schema.names:
        return np.full(int(starts[-1]), NO_DAY, np.int64)
    day_starts, days = _list(batch, name)
    _check_same(starts, day_starts, "conditions", name)
    day, present = _days(days, name)
    usable = present & (day >= _epoch(_FIRST_BORN)) & (day <= _epoch(_LAST_DAY))
    return np.where(usable, day, NO_DAY)


def condition_flags(key: str, source: Compiled) -> int | None:
    """The bits of a condition key and of all that it implies; None for an unknown key."""
    return flags_of_keys([key], source) if key in conditions() else None
