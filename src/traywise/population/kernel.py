"""The rule logic compiled for millions: the one file that imports numba.

In: an edition's arrays and a batch of children as flat arrays with offsets. Out:
statuses and days in arrays, a row of each for every group. The rules are the plain
functions of ``schedule``, only declared usable here; nothing is decided a second
time. The compiler's disk cache watches this file alone, so the cache folder's name
carries a digest of every file that the compiled code is made of.

The functions are compiled without reference counts (``_nrt=False``) and put into one
another (``forceinline``): they make no array, and handing the two bundles of arrays
from function to function costs three to ten times what the rules cost.
"""

# ruff: noqa: E402  The cache folder must be named before numba is loaded.

from __future__ import annotations

import hashlib
import os
from datetime import date
from functools import cache
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any, NamedTuple

from traywise import calendar
from traywise.schedule import arrays, conditions, events, forecast, judge, layout, spacing

_LOGIC: tuple[ModuleType, ...] = (
    calendar,
    layout,
    arrays,
    events,
    conditions,
    spacing,
    judge,
    forecast,
)


def _logic_digest() -> str:
    """Digest of the source that the compiled code is made of: the logic's files and this one."""
    digest = hashlib.sha256()
    for path in (*(module.__file__ for module in _LOGIC), __file__):
        digest.update(Path(str(path)).read_bytes())
    return digest.hexdigest()[:16]


def cache_folder() -> Path:
    """Where the compiled code of exactly this logic is kept."""
    base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return base / "traywise" / f"compiled-{_logic_digest()}"


def _can_keep(folder: Path) -> bool:
    """Whether compiled code can be kept; without a writable folder it is compiled each time."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    return os.access(folder, os.W_OK)


_FOLDER = cache_folder()
_KEEP = _can_keep(_FOLDER)
if _KEEP:
    os.environ["NUMBA_CACHE_DIR"] = str(_FOLDER)

import numba
import numpy as np
import numpy.typing as npt
from numba.extending import register_jitable

from traywise.schedule import layout as c
from traywise.schedule.arrays import Case, Table
from traywise.schedule.compile import Compiled, compiled
from traywise.schedule.forecast import forecast_group
from traywise.schedule.judge import judge_group

if _KEEP:
    setattr(numba.config, "CACHE_DIR", str(_FOLDER))  # noqa: B010  in case another program loaded numba before

Ints = npt.NDArray[Any]

DAYS_TO_1970 = int(calendar.day_number(date(1970, 1, 1)))
"""Arrow counts days from 1970-01-01, the logic from 1900-01-01."""


NO_DAY = -(1 << 31)
"""A day of an event that is not known."""

_YEARS_AHEAD = 3 * 366  # longer than any antibody product holds back a dose
BLOCK = 256
"""Children that are taken through one group before the next group's turn."""

# Without reference counts, and the rules put into the one compiled function; see above.
_OUTSIDE: dict[str, Any] = {"_nrt": False}
_INSIDE: dict[str, Any] = {"_nrt": False, "forceinline": True}


class Rules(NamedTuple):
    """An edition as the compiled logic takes it.

    groups        keys in the order of the edition
    table         the arrays of the edition and the calendar
    codes         CVX codes in text order; a dose carries the place of its code here
    masks         for each code and, last, for an unknown one: products, groups, live families
    """

    groups: tuple[str, ...]
    table: Table
    codes: tuple[str, ...]
    masks: Ints


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
    """Where a block of children is worked on; made once a batch."""

    child: Any
    doses: Any
    antibodies: Any
    events: Any
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


@cache
def rules_of(edition: str) -> Rules:
    """The edition of that name, ready for ``answer``."""
    return rules_from(compiled(edition))


def rules_from(source: Compiled) -> Rules:
    """A compiled edition, ready for ``answer``."""
    calendar_tables = ("month_of", "first_of")
    arrays_of: dict[str, Any] = {
        name: np.array(values, np.int32 if name in calendar_tables else np.int64)
        for name, values in source.table()._asdict().items()
    }
    codes = tuple(sorted(source.of_cvx))
    masks = [source.of_cvx[code] for code in codes] + [(0, 0, 0)]
    groups = tuple(group.key for group in source.edition.groups)
    return Rules(groups, Table(**arrays_of), codes, np.array(masks, np.int64))


def answer(children: Children, rules: Rules, assess_on: int) -> Answers:
    """Every child's answer in every group on a day (days from 1970-01-01).

    Runs without the interpreter's lock: several threads may answer batches side by side.
    """
    children = _in_one_type(children)
    count = len(children.born)
    shape = (len(rules.groups), count)
    answers = Answers(
        status=np.zeros(shape, np.int8),
        dose=np.zeros(shape, np.uint8),
        earliest=np.zeros(shape, np.int32),
        due=np.zeros(shape, np.int32),
        overdue=np.zeros(shape, np.int32),
        has_dose=_no_bits(len(rules.groups), count),
        has_overdue=_no_bits(len(rules.groups), count),
    )
    room = Room(
        child=_zeros(BLOCK * c.CHILD_WIDTH),
        doses=_zeros(_longest(children.dose_starts, BLOCK) * c.DOSE_WIDTH),
        antibodies=_zeros(_longest(children.antibody_starts, BLOCK) * 2),
        events=_zeros(_longest(children.event_starts, BLOCK) * c.EVENT_WIDTH),
        valid=_zeros(_longest(children.dose_starts, 1) * 2),
        history=_zeros(c.HISTORY_WIDTH),
        verdicts=_zeros(_longest(children.dose_starts, 1) * c.VERDICT_WIDTH),
        out=_zeros(c.FORECAST_WIDTH),
    )
    _answer_batch(rules.table, room, children, rules.masks, DAYS_TO_1970, assess_on, answers)
    return answers


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


def _in_one_type(children: Children) -> Children:
    """The same numbers in fixed widths and read-only: each other type would be compiled anew."""
    found = []
    for name, column in zip(Children._fields, children, strict=True):
        fitting = np.ascontiguousarray(column, _WIDTHS[name]).view()
        fitting.flags.writeable = False
        found.append(fitting)
    return Children(*found)


def _no_bits(groups: int, count: int) -> Ints:
    return np.zeros((groups, (count + 7) // 8), np.uint8)


def _zeros(size: int) -> Any:
    """An array that the logic takes for a list of whole numbers."""
    return np.zeros(size, np.int64)


def _longest(starts: Ints, children: int) -> int:
    """The most list entries that ``children`` in a row, counted from a multiple of it, have."""
    ends = np.append(starts[:-1:children], starts[-1])
    return int(np.diff(ends).max(initial=0)) + 1


def _declare(module: ModuleType) -> None:
    """Let compiled code use the functions that a module of the logic defines."""
    for item in list(vars(module).values()):
        if isinstance(item, FunctionType) and item.__module__ == module.__name__:
            register_jitable(**_INSIDE)(item)


register_jitable(**_INSIDE)(calendar.add_span)
for _module in (events, conditions, spacing, judge, forecast):
    _declare(_module)


@register_jitable(**_INSIDE)
def _take_doses(k: int, case: Case, children: Children, masks: Ints, shift: int) -> None:
    """Fill in a child's doses from birth to the day of the answer, by day and code."""
    count = 0
    for i in range(children.dose_starts[k], children.dose_starts[k + 1]):
        day = children.dose_day[i] + shift
        if day < case.child[c.K_BORN] or day > case.child[c.K_ASSESS]:
            continue
        code = children.dose_code[i]
        at = count
        while at > 0 and (
            case.doses[(at - 1) * c.DOSE_WIDTH + c.D_DAY] > day
            or (
                case.doses[(at - 1) * c.DOSE_WIDTH + c.D_DAY] == day
                and case.doses[(at - 1) * c.DOSE_WIDTH + c.D_FLAW] > code
            )
        ):
            for column in range(c.DOSE_WIDTH):
                case.doses[at * c.DOSE_WIDTH + column] = case.doses[
                    (at - 1) * c.DOSE_WIDTH + column
                ]
            at -= 1
        case.doses[at * c.DOSE_WIDTH + c.D_DAY] = day
        case.doses[at * c.DOSE_WIDTH + c.D_PRODUCTS] = masks[code, 0]
        case.doses[at * c.DOSE_WIDTH + c.D_GROUPS] = masks[code, 1]
        case.doses[at * c.DOSE_WIDTH + c.D_LIVE] = masks[code, 2]
        case.doses[at * c.DOSE_WIDTH + c.D_FLAW] = code  # until all are in order
        count += 1
    for i in range(count):
        case.doses[i * c.DOSE_WIDTH + c.D_FLAW] = c.FLAW_NONE
    case.child[c.K_DOSES] = count


@register_jitable(**_INSIDE)
def _take_antibodies(k: int, case: Case, children: Children, t: Table, shift: int) -> None:
    """Fill in the antibody products: day received, first day they no longer hold back a dose."""
    count = 0
    for i in range(children.antibody_starts[k], children.antibody_starts[k + 1]):
        day = children.antibody_day[i] + shift
        # Compiled code checks no index: a day outside the month table must not reach it.
        if day < 0 or day + _YEARS_AHEAD >= len(t.month_of):
            continue
        case.antibodies[2 * count] = day
        case.antibodies[2 * count + 1] = calendar.add_span(
            day, children.antibody_months[i], 0, t.month_of, t.first_of
        )
        count += 1
    case.child[c.K_ANTIBODIES] = count


@register_jitable(**_INSIDE)
def _take_events(k: int, case: Case, children: Children, t: Table, shift: int) -> None:
    """Fill in the dated conditions that have begun, and which row lists the child reads."""
    count = 0
    dated = t.settings[c.S_DATED]
    for i in range(children.event_starts[k], children.event_starts[k + 1]):
        first = children.event_first[i]
        last = children.event_last[i]
        if children.event_bits[i] & dated == 0:
            continue
        if first != NO_DAY and first + shift > case.child[c.K_ASSESS]:
            continue
        at = count * c.EVENT_WIDTH
        case.events[at + c.EV_BITS] = children.event_bits[i]
        case.events[at + c.EV_FIRST] = c.NONE if first == NO_DAY else first + shift
        case.events[at + c.EV_LAST] = c.NONE if last == NO_DAY else last + shift
        count += 1
    case.child[c.K_EVENTS] = count
    case.child[c.K_LISTS] = 0
    if count > 0 or case.child[c.K_FLAGS] & dated != 0:
        case.child[c.K_LISTS] = c.DATED_LISTS


@register_jitable(**_INSIDE)
def _take_block(
    first: int,
    end: int,
    room: Room,
    children: Children,
    masks: Ints,
    t: Table,
    shift: int,
    assess_on: int,
) -> None:
    """Fill in the children of a block."""
    for k in range(first, end):
        case = _case_of(k, first, room, children)
        case.child[c.K_ASSESS] = assess_on + shift
        case.child[c.K_BORN] = children.born[k] + shift
        case.child[c.K_SEX] = children.sex[k]
        case.child[c.K_FLAGS] = children.flags[k]
        _take_doses(k, case, children, masks, shift)
        _take_antibodies(k, case, children, t, shift)
        _take_events(k, case, children, t, shift)


@register_jitable(**_INSIDE)
def _case_of(k: int, first: int, room: Room, children: Children) -> Case:
    """Child ``k`` of the block that begins with ``first``."""
    at = (k - first) * c.CHILD_WIDTH
    dose = (children.dose_starts[k] - children.dose_starts[first]) * c.DOSE_WIDTH
    antibody = (children.antibody_starts[k] - children.antibody_starts[first]) * 2
    event = (children.event_starts[k] - children.event_starts[first]) * c.EVENT_WIDTH
    return Case(
        room.child[at:],
        room.doses[dose:],
        room.antibodies[antibody:],
        room.events[event:],
        room.valid,
        room.history,
    )


@numba.njit(cache=_KEEP, nogil=True, **_OUTSIDE)  # type: ignore[untyped-decorator]
def _answer_batch(
    t: Table,
    room: Room,
    children: Children,
    masks: Ints,
    shift: int,
    assess_on: int,
    answers: Answers,
) -> None:
    for first in range(0, len(children.born), BLOCK):
        end = min(first + BLOCK, len(children.born))
        _take_block(first, end, room, children, masks, t, shift, assess_on)
        # Group by group: the same rows for many children keep the processor's guesses right.
        for g in range(answers.status.shape[0]):
            for k in range(first, end):
                if children.known[k] == 0:
                    answers.status[g, k] = c.NONE
                    continue
                case = _case_of(k, first, room, children)
                judge_group(g, room.verdicts, t, case)
                forecast_group(g, room.out, t, case)
                out = room.out
                answers.status[g, k] = out[c.F_STATUS]
                if out[c.F_DOSE] != c.NONE:
                    answers.has_dose[g, k >> 3] |= 1 << (k & 7)
                    answers.dose[g, k] = out[c.F_DOSE]
                    answers.earliest[g, k] = out[c.F_EARLIEST] - shift
                    answers.due[g, k] = out[c.F_DUE] - shift
                    if out[c.F_OVERDUE] != c.NONE:
                        answers.has_overdue[g, k >> 3] |= 1 << (k & 7)
                        answers.overdue[g, k] = out[c.F_OVERDUE] - shift
