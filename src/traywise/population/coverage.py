"""Coverage: what share of the children is up to date, by group and year of age."""

from __future__ import annotations

from pathlib import Path

import msgspec
import numpy as np

from traywise.population.answer_columns import STATUSES
from traywise.population.columns import (
    BEHIND,
    UP_TO_DATE,
    age_years,
    batches_of,
    chosen_groups,
    open_answers,
    statuses,
)

_AGES = 120
_LAST = len(STATUSES) + 1  # one more for a child who could not be answered


class Share(msgspec.Struct, frozen=True, kw_only=True):
    """Children of one age in one group.

    up_to_date   no dose is due: complete, immune, or the next dose lies ahead
    behind       a dose is due, overdue or deferred
    not_counted  aged out, not recommended, the clinician decides, or not answered
    share        up_to_date among those counted, None when there are none
    """

    group: str
    age_years: int
    up_to_date: int
    behind: int
    not_counted: int
    share: float | None


class Coverage(msgspec.Struct, frozen=True, kw_only=True):
    """Coverage of a population on a day under an edition."""

    edition: str
    assess_on: str
    children: int
    shares: tuple[Share, ...]


def coverage_of(path: Path, groups: tuple[str, ...] = ()) -> Coverage:
    """Count a file of answers; raises InputError when it is none or a group is unknown."""
    answers = open_answers(path)
    wanted = chosen_groups(answers, groups)
    counts = np.zeros((len(wanted), _AGES, _LAST), np.int64)
    children = 0
    for batch in batches_of(answers, ["born", *(f"{group}_status" for group in wanted)]):
        ages = age_years(batch.column("born"), answers.assess_on).clip(-1, _AGES - 1)
        children += batch.num_rows
        known = ages >= 0
        for place, group in enumerate(wanted):
            packed = ages[known] * _LAST + statuses(batch.column(f"{group}_status"))[known]
            found = np.bincount(packed, minlength=_AGES * _LAST)
            counts[place] += found.reshape(_AGES, _LAST)
    shares = tuple(
        _share(group, age, counts[place, age].tolist())
        for place, group in enumerate(wanted)
        for age in range(_AGES)
        if counts[place, age].any()
    )
    return Coverage(
        edition=answers.edition,
        assess_on=answers.assess_on.isoformat(),
        children=children,
        shares=shares,
    )


def _share(group: str, age: int, counts: list[int]) -> Share:
    up = sum(counts[STATUSES.index(word)] for word in UP_TO_DATE)
    behind = sum(counts[STATUSES.index(word)] for word in BEHIND)
    return Share(
        group=group,
        age_years=age,
        up_to_date=up,
        behind=behind,
        not_counted=sum(counts) - up - behind,
        share=up / (up + behind) if up + behind else None,
    )
