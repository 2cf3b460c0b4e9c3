"""Invented children: a birth cohort of 0 to 18 years with the records that clinics really see.

Visits come late, are missed or stop; combination products differ from child to child;
some doses are too early, wrong or entered twice; some records have lost doses. Every
part of the population has a random generator of its own, seeded by its number, so that
a seed always gives the same children. The files say of themselves that they are invented.
"""

from __future__ import annotations

from datetime import date
from itertools import groupby
from pathlib import Path
from typing import Any, NamedTuple

import msgspec
import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from traywise.calendar import FIRST_OF, MONTH_OF, Span, add_span, day_number
from traywise.population.arrays import DAYS_TO_1970
from traywise.population.batches import CHILDREN, LONG_WORDS, WORDS
from traywise.population.invented import InventedDose, Invention, invention
from traywise.population.parts import PART_ROWS, PartFolder, Progress, Slice, run_ahead
from traywise.population.target import check_target

Ints = npt.NDArray[Any]
Generator = np.random.Generator

YEARS = 19
"""Birth through 18 years."""

_MONTH_DAYS = 30.4375
_APART, _FAR_APART = 28, 183  # days between visits, when hurrying and at most
_SEXES = ("F", "M", "X")
_SEX_SHARES = (0.486, 0.505, 0.001, 0.008)  # the last: not recorded; invented
_METADATA = {"traywise.invented": "yes: no real child, dose or place"}


def make_file(
    count: int, target: Path, seed: int, on: date, workers: int, progress: Progress
) -> None:
    """Write ``count`` invented children, as they stand on a day, to a Parquet file.

    progress  called with the number of children of each finished part
    raises    InputError where no file can be written
    """
    check_target(target)
    rows = invention()
    identity = repr((count, seed, on.isoformat(), msgspec.json.encode(rows), _own_source()))
    parts = [
        Slice(number, number, 0, min(PART_ROWS, count - number * PART_ROWS))
        for number in range(max(1, -(-count // PART_ROWS)))
    ]
    folder = PartFolder(target, identity, len(parts))
    for part in parts:
        if folder.has(part.number):
            progress(part.rows)

    def work(part: Slice, _: None) -> None:
        batch = make_children(part.number, part.rows, seed, on, rows)
        folder.put(part.number, lambda path: _write(path, batch))

    missing = ((part, None) for part in parts if not folder.has(part.number))
    for part, _ in folder.join(run_ahead(work, missing, workers)):
        progress(part.rows)


def _own_source() -> str:
    """Parts made by another version of this file are not to be mixed with ours."""
    return Path(__file__).read_text(encoding="utf-8")


def _write(path: Path, batch: pa.RecordBatch) -> None:
    names = ["sex", "gestation_weeks", "dose_cvx.list.element", "conditions.list.element"]
    with pq.ParquetWriter(path, batch.schema, use_dictionary=names) as writer:
        writer.write_batch(batch, row_group_size=max(1, batch.num_rows))


class Cohort(NamedTuple):
    """The children of a part: days count from 1900-01-01."""

    born: Ints
    begin: Ints
    family: Ints
    ways: dict[str, npt.NDArray[np.bool_]]


class Given(NamedTuple):
    """Doses given: whose, when, what; one entry each."""

    child: Ints
    day: Ints
    code: Ints


def make_children(
    number: int, count: int, seed: int, on: date, rows: Invention | None = None
) -> pa.RecordBatch:
    """Part ``number`` of the population of a seed: ``count`` children as they stand on a day."""
    rows = rows or invention()
    rng = np.random.default_rng([seed, number])
    today = int(day_number(on))
    cohort = _cohort(rng, count, today, rows)
    given, stopped = _visits(rng, cohort, today, rows)
    given += _seasons(rng, cohort, stopped, today, on.year, rows)
    doses = _with_mistakes(rng, _together(given), cohort, today, rows)
    starts, day, code = _in_lists(doses, count)
    sexes = rng.choice(len(_SEXES) + 1, count, p=_SEX_SHARES)
    columns = {
        "id": _ids(number, count),
        "born": pa.array((cohort.born - DAYS_TO_1970).astype(np.int32)).view(pa.date32()),
        "sex": _words(sexes, _SEXES, sexes == len(_SEXES), WORDS),
        "dose_on": pa.ListArray.from_arrays(
            starts, pa.array((day - DAYS_TO_1970).astype(np.int32)).view(pa.date32())
        ),
        "dose_cvx": pa.ListArray.from_arrays(starts, pa.array(code.astype(np.uint16))),
        "conditions": _conditions(rng, count, rows),
    }
    for measure in rows.measures:
        values = rng.normal(measure.mean, measure.spread, count).clip(measure.low, measure.high)
        missing = rng.random(count) < measure.missing
        kind = CHILDREN.field(measure.key).type
        columns[measure.key] = pa.array(values.round().astype(np.int64), mask=missing).cast(kind)
    schema = pa.schema([CHILDREN.field(name) for name in CHILDREN.names if name in columns])
    return pa.RecordBatch.from_arrays(
        [columns[name] for name in schema.names], schema=schema.with_metadata(_METADATA)
    )


def _ids(number: int, count: int) -> pa.Array:
    numbers = pa.array(np.arange(number * PART_ROWS, number * PART_ROWS + count))
    padded = pc.utf8_lpad(numbers.cast(pa.string()), 9, "0")
    return pc.binary_join_element_wise("invented", padded, "-")


def _words(
    places: Ints, words: tuple[str, ...], missing: npt.NDArray[np.bool_], kind: pa.DataType
) -> pa.DictionaryArray:
    indices = pa.array(places, kind.index_type, mask=missing)
    return pa.DictionaryArray.from_arrays(indices, pa.array(words, pa.string()))


def _cohort(rng: Generator, count: int, today: int, rows: Invention) -> Cohort:
    first = add_span(today, -12 * YEARS, 1, MONTH_OF, FIRST_OF)
    born = rng.integers(first, today + 1, count)
    family = rng.choice(len(rows.families), count, p=[row.share for row in rows.families])
    begin = born.copy()
    for place, row in enumerate(rows.families):
        if row.begin_from is not None and row.begin_before is not None:
            late = rng.integers(_about(row.begin_from), _about(row.begin_before), count)
            begin = np.where(family == place, born + late, begin)
    ways: dict[str, npt.NDArray[np.bool_]] = {}
    for _, members in groupby(rows.ways, key=lambda row: row.key.partition("/")[0]):
        kind = list(members)
        drawn = rng.choice(len(kind), count, p=[row.share for row in kind])
        ways.update({row.key: drawn == place for place, row in enumerate(kind)})
    return Cohort(born, begin, family, ways)


def _about(span: Span) -> int:
    """A span in days, months as their mean; good enough for appointments."""
    return int(np.ceil(span.months * _MONTH_DAYS)) + span.days


def _visits(
    rng: Generator, cohort: Cohort, today: int, rows: Invention
) -> tuple[list[Given], Ints]:
    """Doses at the routine visits, and the day after which a child comes no more."""
    count = len(cohort.born)
    delay = np.array([row.delay_days for row in rows.families])[cohort.family]
    skip = np.array([row.skip for row in rows.families])[cohort.family]
    stop = np.array([row.stop for row in rows.families])[cohort.family]
    routine = [row for row in rows.doses if not row.season]
    given: list[Given] = []
    hurries = np.array([row.begin_from is not None for row in rows.families])[cohort.family]
    previous, age_before = np.full(count, -_APART), 0
    stopped = np.where(skip == 1.0, -1, np.iinfo(np.int32).max)
    for age, members in groupby(sorted(routine, key=lambda row: _about(row.age)), lambda r: r.age):
        planned = np.maximum(cohort.born + _about(age), cohort.begin)
        # At birth families are not late: they are still in hospital.
        late = rng.exponential(1.0, count) * (delay if age > Span() else 0.3)
        # Who is late keeps the distance of the visits; who starts anew makes up for lost time.
        apart = np.where(hurries, _APART, min(_about(age) - age_before, _FAR_APART))
        age_before = _about(age)
        day = np.maximum(planned + late.astype(np.int64), previous + apart)
        comes = (day < stopped) & (rng.random(count) >= skip) & (day <= today)
        for row in members:
            given.append(_draw(rng, row, day, comes, cohort))
        previous = np.where(comes, day, previous)
        stopped = np.where((rng.random(count) < stop) & comes, day + 1, stopped)
    return given, stopped


def _draw(
    rng: Generator,
    row: InventedDose,
    day: Ints,
    comes: npt.NDArray[np.bool_],
    cohort: Cohort,
) -> Given:
    """The doses of one row on the given days."""
    takes = comes & (rng.random(len(day)) < row.share)
    if row.way:
        takes &= np.logical_or.reduce([cohort.ways[way] for way in row.way])
    if row.age_before is not None:
        takes &= day < cohort.born + _about(row.age_before)
    if row.given_from is not None:
        takes &= day >= day_number(row.given_from)
    if row.given_before is not None:
        takes &= day < day_number(row.given_before)
    child = np.flatnonzero(takes)
    return Given(child, day[child], np.full(len(child), int(row.cvx)))


def _seasons(
    rng: Generator, cohort: Cohort, stopped: Ints, today: int, year: int, rows: Invention
) -> list[Given]:
    given = []
    count = len(cohort.born)
    for row in rows.doses:
        if not row.season:
            continue
        month, day_of_month = (int(part) for part in row.season.split("-"))
        first_year = max(year - YEARS, row.given_from.year - 1 if row.given_from else 0)
        last_year = min(year, row.given_before.year if row.given_before else year)
        for one in range(first_year, last_year + 1):
            day = int(day_number(date(one, month, day_of_month))) + rng.integers(
                0, row.spread_days, count
            )
            comes = (day >= cohort.begin) & (day < stopped) & (day <= today)
            comes &= day >= cohort.born + _about(row.age)
            given.append(_draw(rng, row, day, comes, cohort))
    return given


def _together(given: list[Given]) -> Given:
    return Given(*(np.concatenate(columns) for columns in zip(*given, strict=True)))


def _with_mistakes(
    rng: Generator, doses: Given, cohort: Cohort, today: int, rows: Invention
) -> Given:
    """The doses as the record has them: moved, changed, doubled, lost."""
    child, day, code = doses
    for row in rows.mistakes:
        hit = rng.random(len(day)) < row.share
        if row.kind == "early":
            moved = day - rng.integers(1, row.days + 1, len(day))
            day = np.where(hit, np.maximum(moved, cohort.born[child]), day)
        elif row.kind == "wrong product":
            code = np.where(hit & (code == int(row.cvx)), int(row.instead), code)
        else:
            again = day[hit] + rng.integers(0, row.days + 1, int(hit.sum()))
            child = np.concatenate([child, child[hit]])
            code = np.concatenate([code, code[hit]])
            day = np.concatenate([day, np.minimum(again, today)])
    forgotten = np.array([row.forgotten for row in rows.families])[cohort.family]
    kept = rng.random(len(day)) >= forgotten[child]
    return Given(child[kept], day[kept], code[kept])


def _in_lists(doses: Given, count: int) -> tuple[Ints, Ints, Ints]:
    """Offsets, days and codes, child by child and day by day."""
    # One number for child, day and code sorts faster than three keys.
    packed = np.sort((doses.child << 40) | (doses.day << 16) | doses.code)
    starts = np.searchsorted(packed >> 40, np.arange(count + 1)).astype(np.int32)
    return starts, (packed >> 16) & 0xFFFFFF, packed & 0xFFFF


def _conditions(rng: Generator, count: int, rows: Invention) -> pa.ListArray:
    keys = tuple(row.key for row in rows.conditions)
    held = [np.flatnonzero(rng.random(count) < row.share) for row in rows.conditions]
    places = np.concatenate([np.full(len(who), at) for at, who in enumerate(held)])
    packed = np.sort((np.concatenate(held) << 16) | places)
    starts = np.searchsorted(packed >> 16, np.arange(count + 1)).astype(np.int32)
    words = _words(packed & 0xFFFF, keys, np.zeros(len(packed), np.bool_), LONG_WORDS)
    return pa.ListArray.from_arrays(starts, words)
