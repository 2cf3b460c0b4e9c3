"""Edition against edition: which children of a population get another answer, and how."""

from __future__ import annotations

from collections import Counter
from datetime import date
from pathlib import Path

import msgspec
import numpy as np
import pyarrow as pa

from traywise.population.answer_columns import STATUSES
from traywise.population.arrays import Answers, Children, Ints, rules_of
from traywise.population.batches import EPOCH, check_day, read_children, wanted_columns
from traywise.population.kernel import answer
from traywise.population.parts import (
    Progress,
    Slice,
    open_parquet,
    read_slices,
    run_ahead,
    slices_of,
)
from traywise.schedule.compile import compiled


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """So many children have one status in a group under one edition and another under the other.

    Equal statuses mean that only the number or the days of the next dose differ.
    """

    group: str
    before: str
    after: str
    children: int


class Comparison(msgspec.Struct, frozen=True, kw_only=True):
    """Two editions on one population; groups that only one of them has are not compared."""

    before: str
    after: str
    assess_on: str
    children: int
    changed_children: int
    groups: tuple[str, ...]
    only_before: tuple[str, ...]
    only_after: tuple[str, ...]
    changes: tuple[Change, ...]
    first_changed: tuple[str, ...]


_Found = tuple[Counter[tuple[str, int, int]], int, list[str]]


def compare_editions(
    source: Path,
    before: str,
    after: str,
    on: date,
    workers: int,
    progress: Progress,
    shown: int = 20,
) -> Comparison:
    """Answer every child under both editions and count what differs.

    shown   how many ids of changed children to name
    raises  InputError when the file cannot be used
    """
    check_day(on)
    file = open_parquet(source)
    columns = wanted_columns(file.schema_arrow.names, source.name)
    groups = {name: rules_of(name).groups for name in (before, after)}
    shared = tuple(group for group in groups[before] if group in groups[after])

    def work(_: Slice, batch: pa.RecordBatch) -> _Found:
        return _compare_batch(batch, before, after, on, shared)

    counts: Counter[tuple[str, int, int]] = Counter()
    changed, ids = 0, {}
    pieces = read_slices(file, slices_of(file, workers), columns, lambda _: False)
    for part, (found, number, some) in run_ahead(work, pieces, workers):
        counts += found
        changed += number
        ids[part.number] = some[:shown]
        progress(part.rows)
    return Comparison(
        before=before,
        after=after,
        assess_on=on.isoformat(),
        children=file.metadata.num_rows,
        changed_children=changed,
        groups=shared,
        only_before=tuple(group for group in groups[before] if group not in shared),
        only_after=tuple(group for group in groups[after] if group not in shared),
        changes=_changes(counts, shared),
        first_changed=tuple(one for number in sorted(ids) for one in ids[number])[:shown],
    )


def _changes(counts: Counter[tuple[str, int, int]], groups: tuple[str, ...]) -> tuple[Change, ...]:
    ordered = sorted(counts.items(), key=lambda item: (groups.index(item[0][0]), -item[1]))
    return tuple(
        Change(group=group, before=_word(one), after=_word(other), children=number)
        for (group, one, other), number in ordered
    )


def _word(status: int) -> str:
    return STATUSES[status] if status >= 0 else "not answered"


def _compare_batch(
    batch: pa.RecordBatch, before: str, after: str, on: date, groups: tuple[str, ...]
) -> _Found:
    answers = []
    for name in (before, after):
        rules = rules_of(name)
        children, _ = read_children(batch, rules, compiled(name), on)
        answers.append(_of_groups(children, name, on, groups))
    one, other = answers
    different = one.status != other.status
    for field in ("has_dose", "has_overdue", "dose", "earliest", "due", "overdue"):
        different |= _bits_or_values(one, field) != _bits_or_values(other, field)
    counts: Counter[tuple[str, int, int]] = Counter()
    for place, group in enumerate(groups):
        rows = different[place]
        pairs = zip(
            one.status[place, rows].tolist(), other.status[place, rows].tolist(), strict=True
        )
        counts.update((group, a, b) for a, b in pairs)
    changed = np.flatnonzero(different.any(axis=0))
    ids = batch.column("id").take(pa.array(changed[:1000])).to_pylist()
    return counts, len(changed), [str(one_id) for one_id in ids]


def _of_groups(children: Children, edition: str, on: date, groups: tuple[str, ...]) -> Answers:
    """The answers of an edition for the groups in the order asked for."""
    rules = rules_of(edition)
    answers = answer(children, rules, on.toordinal() - EPOCH)
    places = [rules.groups.index(group) for group in groups]
    return Answers(*(column[places] for column in answers))


def _bits_or_values(answers: Answers, field: str) -> Ints:
    """A column, a bitmap unfolded to one entry a child; absent days are zeros in both."""
    column: Ints = getattr(answers, field)
    if field.startswith("has_"):
        count = answers.status.shape[1]
        return np.unpackbits(column, axis=1, bitorder="little")[:, :count]
    return column
