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
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any

from traywise import calendar
from traywise.population import arrays as batch_arrays
from traywise.schedule import arrays, conditions, events, forecast, judge, layout, spacing

_LOGIC: tuple[ModuleType, ...] = (
    calendar,
    layout,
    arrays,
    batch_arrays,
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
from numba.extending import register_jitable

from traywise.population.arrays import (
    DAYS_TO_1970,
    NO_DAY,
    Answers,
    Children,
    Ints,
    Room,
    Rules,
    answers_for,
    in_one_type,
    room_for,
)
from traywise.schedule import layout as c
from traywise.schedule.arrays import Case, Table
from traywise.schedule.forecast import forecast_group
from traywise.schedule.judge import judge_group

if _KEEP:
    setattr(numba.config, "CACHE_DIR", str(_FOLDER))  # noqa: B010  in case another program loaded numba before

_YEARS_AHEAD = 3 * 366  # longer than any antibody product holds back a dose
BLOCK = 256
"""Children that are taken through one group before the next group's turn."""

# Without reference counts, and the rules put into the one compiled function; see above.
_OUTSIDE: dict[str, Any] = {"_nrt": False}
_INSIDE: dict[str, Any] = {"_nrt": False, "forceinline": True}


def answer(children: Children, rules: Rules, assess_on: int) -> Answers:
    """Every child's answer in every group on a day (days from 1970-01-01).

    Runs without the interpreter's lock: several threads may answer batches side by side.
    """
    children = in_one_type(children)
    groups = len(rules.groups)
    answers = answers_for(groups, len(children.born))
    room = room_for(children, groups, BLOCK)
    _answer_batch(
        rules.table,
        room,
        children,
        rules.masks,
        rules.kept_by,
        DAYS_TO_1970,
        assess_on,
        answers,
    )
    return answers


def _declare(module: ModuleType, how: dict[str, Any]) -> None:
    """Let compiled code use the functions that a module of the logic defines."""
    for item in list(vars(module).values()):
        if isinstance(item, FunctionType) and item.__module__ == module.__name__:
            register_jitable(**how)(item)


register_jitable(**_INSIDE)(calendar.add_span)
_declare(events, _OUTSIDE)  # few children have any: inside they cost compiling, and save nothing
for _module in (conditions, spacing, judge, forecast):
    _declare(_module, _INSIDE)


@register_jitable(**_INSIDE)
def _take_doses(k: int, case: Case, children: Children, shift: int) -> None:
    """Fill in a child's doses from birth to the day of the answer, by day and code."""
    count = 0
    for i in range(children.dose_starts[k], children.dose_starts[k + 1]):
        day = children.dose_day[i] + shift
        if day < case.child[c.K_BORN] or day > case.child[c.K_ASSESS]:
            continue
        code = children.dose_code[i]
        at = count * c.DOSE_WIDTH
        while at > 0 and (
            case.doses[at - c.DOSE_WIDTH + c.D_DAY] > day
            or (
                case.doses[at - c.DOSE_WIDTH + c.D_DAY] == day
                and case.doses[at - c.DOSE_WIDTH + c.D_FLAW] > code
            )
        ):
            case.doses[at + c.D_DAY] = case.doses[at - c.DOSE_WIDTH + c.D_DAY]
            case.doses[at + c.D_FLAW] = case.doses[at - c.DOSE_WIDTH + c.D_FLAW]
            at -= c.DOSE_WIDTH
        case.doses[at + c.D_DAY] = day
        case.doses[at + c.D_FLAW] = code  # until all are in order
        count += 1
    case.child[c.K_DOSES] = count


@register_jitable(**_INSIDE)
def _take_products(place: int, case: Case, masks: Ints, kept_by: Ints, room: Room) -> None:
    """Fill in what each dose is, and note the lists that keep it.

    place  number of the child in its block
    """
    given = 0
    for g in range(room.own.shape[0]):
        room.own_ends[place + 1, g] = room.own_ends[place, g]
    for i in range(case.child[c.K_DOSES]):
        at = i * c.DOSE_WIDTH
        code = case.doses[at + c.D_FLAW]
        given |= masks[code, 0]
        case.doses[at + c.D_PRODUCTS] = masks[code, 0]
        case.doses[at + c.D_LIVE] = masks[code, 2]
        case.doses[at + c.D_FLAW] = c.FLAW_NONE
        for n in range(kept_by[code, 0]):
            g = kept_by[code, n + 1]
            room.own[g, room.own_ends[place + 1, g]] = i
            room.own_ends[place + 1, g] += 1
    case.child[c.K_GIVEN] = given


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
    case.child[c.K_LISTS] = conditions.lists_of(case.child[c.K_FLAGS], count, t)


@register_jitable(**_INSIDE)
def _take_block(
    first: int,
    end: int,
    room: Room,
    children: Children,
    masks: Ints,
    kept_by: Ints,
    t: Table,
    shift: int,
    assess_on: int,
) -> None:
    """Fill in the children of a block."""
    for k in range(first, end):
        case = _case_of(k, first, 0, room, children)
        case.child[c.K_ASSESS] = assess_on + shift
        case.child[c.K_BORN] = children.born[k] + shift
        case.child[c.K_SEX] = children.sex[k]
        case.child[c.K_FLAGS] = children.flags[k]
        _take_doses(k, case, children, shift)
        _take_antibodies(k, case, children, t, shift)
        _take_events(k, case, children, t, shift)
        _take_products(k - first, case, masks, kept_by, room)


@register_jitable(**_INSIDE)
def _case_of(k: int, first: int, g: int, room: Room, children: Children) -> Case:
    """Child ``k`` of the block that begins with ``first``, for group ``g``."""
    at = (k - first) * c.CHILD_WIDTH
    dose = (children.dose_starts[k] - children.dose_starts[first]) * c.DOSE_WIDTH
    antibody = (children.antibody_starts[k] - children.antibody_starts[first]) * 2
    event = (children.event_starts[k] - children.event_starts[first]) * c.EVENT_WIDTH
    places = room.own_ends[k - first : k - first + 2]
    last = room.own.shape[0] - 1
    return Case(
        room.child[at:],
        room.doses[dose:],
        room.antibodies[antibody:],
        room.events[event:],
        room.own[last, places[0, last] : places[1, last]],
        room.own[g, places[0, g] : places[1, g]],
        room.valid,
        room.history,
    )


@numba.njit(cache=_KEEP, nogil=True, **_OUTSIDE)  # type: ignore[untyped-decorator]
def _answer_batch(
    t: Table,
    room: Room,
    children: Children,
    masks: Ints,
    kept_by: Ints,
    shift: int,
    assess_on: int,
    answers: Answers,
) -> None:
    for first in range(0, len(children.born), BLOCK):
        end = min(first + BLOCK, len(children.born))
        _take_block(first, end, room, children, masks, kept_by, t, shift, assess_on)
        # Group by group: the same rows for many children keep the processor's guesses right.
        for g in range(answers.status.shape[0]):
            for k in range(first, end):
                if children.known[k] == 0:
                    answers.status[g, k] = c.NONE
                    continue
                case = _case_of(k, first, g, room, children)
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
