"""The arrays that the compiled rules read and write: an edition, a batch of children, answers."""

from __future__ import annotations

from datetime import date
from functools import cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from traywise.calendar import day_number
from traywise.schedule import layout as c
from traywise.schedule.arrays import Table
from traywise.schedule.compile import Compiled, compiled

Ints = npt.NDArray[Any]

DAYS_TO_1970 = int(day_number(date(1970, 1, 1)))
"""Arrow counts days from 1970-01-01, the logic from 1900-01-01."""

NO_DAY = -(1 << 31)
"""A day of an event that is not known."""


class Rules(NamedTuple):
    """An edition as the compiled logic takes it.

    groups        keys in the order of the edition
    table         the arrays of the edition and the calendar
    codes         CVX codes in text order; a dose carries the place of its code here
    masks         for each code and, last, for an unknown one: products, groups, live families
    kept_by       for each of these: number of lists it is kept in, then the lists: one of each
                  group that judges it, and one more for live vaccines
    """

    groups: tuple[str, ...]
    table: Table
    codes: tuple[str, ...]
    masks: Ints
    kept_by: Ints


class Children(NamedTuple):
    """A batch of children: one entry each, lists as flat arrays with ``n + 1`` offsets.

    Whole numbers of any width; ``answer`` brings them to the widths it was compiled for.

    Events are dated conditions of the edition's rows, where the file has their days; ``NO_DAY``
    stands for a day that is not known. Days count from 1970-01-01. ``known`` is 0 where the
    date of birth cannot be used.
    """

    born: Ints
    known: Ints
    sex: Ints
    flags: Ints
    dose_starts: Ints
    dose_day: Ints
    dose_code: Ints
    antibody_starts: Ints
    antibody_day: Ints
    antibody_months: Ints
    event_starts: Ints
    event_bits: Ints
    event_first: Ints
    event_last: Ints


class Room(NamedTuple):
    """Where a block of children is worked on; made once a batch.

    own       for each group the places of its doses, child after child; last, of live doses
    own_ends  (children + 1, groups + 1): where each child's places end; the first line is 0
    """

    child: Any
    doses: Any
    antibodies: Any
    events: Any
    own: Any
    own_ends: Any
    valid: Any
    history: Any
    verdicts: Any
    out: Any


class Answers(NamedTuple):
    """Arrays of shape (groups, children); days count from 1970-01-01.

    status   code of ``schedule.layout`` (ST_DUE ...), -1 where the child could not be answered
    has_dose     bitmap, lowest bit first: whether the next dose and its days are there at all
    has_overdue  likewise for overdue: an authority may name no such day
    """

    status: Ints
    dose: Ints
    earliest: Ints
    due: Ints
    overdue: Ints
    has_dose: Ints
    has_overdue: Ints


# What serves as an index is without sign: the compiler then leaves out the check for indices that
# count from the end.
_TABLE_TYPES: dict[str, Any] = {
    "speaking": np.uint32,
    "starts": np.uint32,
    "month_of": np.uint32,
    "first_of": np.int32,
}


@cache
def rules_of(edition: str) -> Rules:
    """The edition of that name, ready for ``answer``."""
    return rules_from(compiled(edition))


def rules_from(source: Compiled) -> Rules:
    """A compiled edition, ready for ``answer``."""
    arrays_of: dict[str, Any] = {
        name: np.array(values, _TABLE_TYPES.get(name, np.int64))
        for name, values in source.table()._asdict().items()
    }
    codes = tuple(sorted(source.of_cvx))
    masks = [source.of_cvx[code] for code in codes] + [(0, 0, 0)]
    groups = tuple(group.key for group in source.edition.groups)
    return Rules(
        groups, Table(**arrays_of), codes, np.array(masks, np.int64), _kept_by(masks, len(groups))
    )


def _kept_by(masks: list[tuple[int, int, int]], groups: int) -> Ints:
    found = np.zeros((len(masks), groups + 2), np.uint8)
    for code, (_, judged_by, live) in enumerate(masks):
        lists = [group for group in range(groups) if judged_by >> group & 1]
        lists += [groups] if live else []
        found[code, : len(lists) + 1] = [len(lists), *lists]
    return found


_WIDTHS: dict[str, Any] = {
    "born": np.int32,
    "known": np.uint8,
    "sex": np.int8,
    "flags": np.int64,
    "dose_starts": np.int64,
    "dose_day": np.int32,
    "dose_code": np.int16,
    "antibody_starts": np.int64,
    "antibody_day": np.int32,
    "antibody_months": np.int32,
    "event_starts": np.int64,
    "event_bits": np.int64,
    "event_first": np.int32,
    "event_last": np.int32,
}


def in_one_type(children: Children) -> Children:
    """The same numbers in fixed widths and read-only: each other type would be compiled anew."""
    found = []
    for name, column in zip(Children._fields, children, strict=True):
        fitting = np.ascontiguousarray(column, _WIDTHS[name]).view()
        fitting.flags.writeable = False
        found.append(fitting)
    return Children(*found)


def answers_for(groups: int, children: int) -> Answers:
    """Room for the answers of a batch."""
    shape = (groups, children)
    bits = (groups, (children + 7) // 8)
    return Answers(
        status=np.zeros(shape, np.int8),
        dose=np.zeros(shape, np.uint8),
        earliest=np.zeros(shape, np.int32),
        due=np.zeros(shape, np.int32),
        overdue=np.zeros(shape, np.int32),
        has_dose=np.zeros(bits, np.uint8),
        has_overdue=np.zeros(bits, np.uint8),
    )


def room_for(children: Children, groups: int, block: int) -> Room:
    """Where ``block`` children at a time are worked on."""
    doses = _longest(children.dose_starts, block)
    own_doses = _longest(children.dose_starts, 1)
    return Room(
        child=_zeros(block * c.CHILD_WIDTH),
        doses=_zeros(doses * c.DOSE_WIDTH),
        antibodies=_zeros(_longest(children.antibody_starts, block) * 2),
        events=_zeros(_longest(children.event_starts, block) * c.EVENT_WIDTH),
        own=np.zeros((groups + 1, doses), np.uint32),
        own_ends=np.zeros((block + 1, groups + 1), np.uint32),
        valid=_zeros(own_doses * 2),
        history=_zeros(c.HISTORY_WIDTH),
        verdicts=_zeros(own_doses * c.VERDICT_WIDTH),
        out=_zeros(c.FORECAST_WIDTH),
    )


def _zeros(size: int) -> Any:
    """An array that the logic takes for a list of whole numbers."""
    return np.zeros(size, np.int64)


def _longest(starts: Ints, children: int) -> int:
    """The most list entries that ``children`` in a row, counted from a multiple of it, have."""
    ends = np.append(starts[:-1:children], starts[-1])
    return int(np.diff(ends).max(initial=0)) + 1
