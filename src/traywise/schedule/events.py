"""Dated conditions of a child (a transplant, chemotherapy, a pregnancy) that rows count from.

``cond`` is the place of a DATED condition in ``conds``. A day that is not known stays NONE:
such a condition is no ground for a date, only for a row of time "unknown".
"""

from traywise.calendar import add_span
from traywise.schedule import layout as c
from traywise.schedule.arrays import Case, Table


def first_of_event(cond: int, at: int, t: Table, case: Case) -> int:
    """First day of the dated condition at ``at`` of ``events``, or NONE."""
    first = case.events[at + c.EV_FIRST]
    last = case.events[at + c.EV_LAST]
    lasts = t.conds[cond + c.E_LASTS]
    if first == c.NONE and last != c.NONE and lasts != c.NONE:
        return last - lasts
    return first


def last_of_event(cond: int, at: int, t: Table, case: Case) -> int:
    """Last day of the dated condition at ``at`` of ``events``, or NONE."""
    first = case.events[at + c.EV_FIRST]
    last = case.events[at + c.EV_LAST]
    lasts = t.conds[cond + c.E_LASTS]
    if last == c.NONE and first != c.NONE and lasts != c.NONE:
        return first + lasts
    return last


def trail_end(cond: int, last: int, t: Table) -> int:
    """Last day on which the condition still bears on a dose; NONE when its end is not known."""
    if last == c.NONE:
        return c.NONE
    return add_span(
        last, t.conds[cond + c.E_TRAIL], t.conds[cond + c.E_TRAIL_D], t.month_of, t.first_of
    )


def event_at(cond: int, day: int, t: Table, case: Case) -> int:
    """Place in ``events`` of the condition that the row means for a dose on ``day``, or NONE.

    Of several the one that began last.
    """
    time = t.conds[cond + c.E_TIME] % c.LAST_DAY
    found = c.NONE
    latest = c.NONE
    for i in range(case.child[c.K_EVENTS]):
        at = i * c.EVENT_WIDTH
        if case.events[at + c.EV_BITS] & t.conds[cond + c.E_MASK] == 0:
            continue
        first = first_of_event(cond, at, t, case)
        last = last_of_event(cond, at, t, case)
        if time == c.BEFORE_EVENT:
            good = first != c.NONE and day < first
        elif time == c.DURING_EVENT:
            end = trail_end(cond, last, t)
            good = first != c.NONE and day >= first - t.conds[cond + c.E_LEAD]
            good = good and (end == c.NONE or day <= end)
        elif t.conds[cond + c.E_TIME] < c.LAST_DAY:
            good = first != c.NONE and day >= first
        else:
            good = last != c.NONE and day > last
        if good and (found == c.NONE or first > latest):
            found = at
            latest = first
    return found


def is_undated(cond: int, t: Table, case: Case) -> bool:
    """Whether the child has the condition without the day that the row needs.

    Without its first day it is a matter for rows that need that one: rows that need the last day
    ask only where the first is known.
    """
    needs_last = t.conds[cond + c.E_TIME] >= c.LAST_DAY
    recorded = False
    for i in range(case.child[c.K_EVENTS]):
        at = i * c.EVENT_WIDTH
        if case.events[at + c.EV_BITS] & t.conds[cond + c.E_MASK] == 0:
            continue
        recorded = True
        first = first_of_event(cond, at, t, case)
        if not needs_last and first == c.NONE:
            return True
        if needs_last and first != c.NONE and last_of_event(cond, at, t, case) == c.NONE:
            return True
    return not recorded and not needs_last and case.child[c.K_FLAGS] & t.conds[cond + c.E_MASK] != 0


def dated_holds(cond: int, day: int, t: Table, case: Case) -> tuple[bool, int]:
    """(whether a DATED condition holds for a dose on ``day``, first day of what it means).

    Of days after the day of the answer nothing is known: they stand for that day.
    """
    if t.conds[cond + c.E_TIME] % c.LAST_DAY == c.UNKNOWN_EVENT:
        return is_undated(cond, t, case), c.NONE
    at = event_at(cond, min(day, case.child[c.K_ASSESS]), t, case)
    if at == c.NONE:
        return False, c.NONE
    return True, first_of_event(cond, at, t, case)


def counted_from(r: int, day: int, t: Table, case: Case) -> int:
    """Day from which a row with a dated condition counts its intervals, or NONE."""
    cond = t.rows[r + c.EVENT]
    if t.conds[cond + c.E_TIME] % c.LAST_DAY == c.UNKNOWN_EVENT:
        return c.NONE
    at = event_at(cond, min(day, case.child[c.K_ASSESS]), t, case)
    if at == c.NONE:
        return c.NONE
    if t.conds[cond + c.E_TIME] < c.LAST_DAY:
        return first_of_event(cond, at, t, case)
    return last_of_event(cond, at, t, case)


def after_event(r: int, span: int, day: int, t: Table, case: Case) -> int:
    """The day a span after the condition of the row, or NONE when nothing is said.

    span  E_MIN: far enough from it; E_LATE: late
    """
    at = t.rows[r + c.EVENT] + span
    if t.conds[at] == c.NONE:
        return c.NONE
    start = counted_from(r, day, t, case)
    if start == c.NONE:
        return c.NONE
    return add_span(start, t.conds[at], t.conds[at + 1], t.month_of, t.first_of)
