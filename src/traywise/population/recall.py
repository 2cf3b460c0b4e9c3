"""Recall: whom to call, longest overdue first, with the groups that are due."""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import msgspec
import numpy as np
import pyarrow as pa

from traywise.population.answer_columns import STATUSES
from traywise.population.columns import (
    AnswerFile,
    batches_of,
    chosen_groups,
    open_answers,
    statuses,
)

_OVERDUE = STATUSES.index("overdue")
_DUE = STATUSES.index("due")


class Call(msgspec.Struct, frozen=True, kw_only=True):
    """A child to call.

    days_overdue  since the earliest overdue day of the groups asked for
    overdue       those groups, with the day from which each is overdue
    also_due      groups that are due but not overdue: give them at the same visit
    """

    id: str
    born: date
    days_overdue: int
    overdue: dict[str, date]
    also_due: tuple[str, ...]


def calls_of(
    path: Path, groups: tuple[str, ...] = (), at_least_days: int = 0, limit: int | None = None
) -> list[Call]:
    """Children with an overdue group, longest overdue first; ties by date of birth and id.

    groups         only these make a call; none means every group
    at_least_days  only children overdue for so many days
    limit          at most so many children; memory stays as small as this
    raises         InputError when the file is none of answers or a group is unknown
    """
    answers = open_answers(path)
    wanted = chosen_groups(answers, groups)

    def rank(call: Call) -> tuple[int, date, str]:
        return (-call.days_overdue, call.born, call.id)

    found = _calls(answers, wanted, at_least_days)
    return sorted(found, key=rank) if limit is None else heapq.nsmallest(limit, found, key=rank)


def _calls(answers: AnswerFile, groups: tuple[str, ...], at_least_days: int) -> Iterator[Call]:
    columns = ["id", "born"]
    for group in groups:
        columns += [f"{group}_status", f"{group}_overdue"]
    for batch in batches_of(answers, columns):
        status = np.stack([statuses(batch.column(f"{group}_status")) for group in groups])
        rows = np.flatnonzero((status == _OVERDUE).any(axis=0))
        picked = batch.take(pa.array(rows))
        days = {group: picked.column(f"{group}_overdue").to_pylist() for group in groups}
        ids, born = picked.column("id").to_pylist(), picked.column("born").to_pylist()
        for place, row in enumerate(rows):
            late = {
                group: days[group][place]
                for number, group in enumerate(groups)
                if status[number, row] == _OVERDUE
            }
            waited = (answers.assess_on - min(late.values())) // timedelta(days=1)
            if waited >= at_least_days:
                due = tuple(
                    group for number, group in enumerate(groups) if status[number, row] == _DUE
                )
                yield Call(
                    id=ids[place],
                    born=born[place],
                    days_overdue=waited,
                    overdue=late,
                    also_due=due,
                )
