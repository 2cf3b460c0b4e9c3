"""What comes next in a group: the first row that offers a dose, and the days it allows."""

from traywise.schedule import layout as c
from traywise.schedule.arrays import Case, Numbers, Table
from traywise.schedule.conditions import (
    conditions_hold,
    in_window,
    last_given,
    later,
    move_into_season,
    reached,
    row_day,
    season_end,
    season_start,
    speaking_rows,
)
from traywise.schedule.events import (
    after_event,
    event_at,
    last_of_event,
    trail_end,
)
from traywise.schedule.judge import refusal
from traywise.schedule.spacing import antibody_conflict, live_conflict


def first_day(r: int, t: Table, case: Case) -> int:
    """First day on which a row would accept the next dose, grace aside."""
    born = case.child[c.K_BORN]
    at = r + c.TO_PLAN
    day = later(later(born, born, at + c.MIN_AGE, t), born, at + c.FROM, t)
    if case.history[c.H_BASE] != c.NONE:
        day = later(day, case.history[c.H_BASE], at + c.MIN_INT, t)
    if case.history[c.H_TOTAL] > 0:
        day = later(day, case.valid[0], at + c.FIRST_INT, t)
    if t.rows[r + c.EVENT] != c.NONE:
        day = max(day, event_day(r, t, case))
    if case.history[c.H_LIVE_BAD] != c.NONE:
        day = max(day, case.history[c.H_LIVE_BAD] + t.settings[c.S_LIVE_DAYS])
    if t.rows[r + c.OTHER] != 0:
        other = last_given(t.rows[r + c.OTHER], case.child[c.K_ASSESS] + 1, case)
        if other != c.NONE:
            day = later(day, other, at + c.OTHER_INT, t)
    if t.rows[r + c.SEASON_FIRST] != c.NONE:
        day = season_day(day, r, t, case)
    return day


def event_day(r: int, t: Table, case: Case) -> int:
    """First day that a row's dated condition allows; without its day, the day of the answer."""
    assess = case.child[c.K_ASSESS]
    if t.conds[t.rows[r + c.EVENT] + c.E_TIME] % c.LAST_DAY == c.UNKNOWN_EVENT:
        return assess
    return after_event(r, c.E_MIN, assess, t, case)


def clear_of_events(day: int, g: int, t: Table, case: Case) -> int:
    """First day from ``day`` on that lies in no time in which a dose would not count."""
    among = speaking_rows(g, c.JUDGING, t, case)
    for at in range(t.starts[among], t.starts[among + 1]):
        r = t.speaking[at] * c.ROW_WIDTH
        cond = t.rows[r + c.EVENT]
        if (
            t.rows[r + c.KIND] != c.NOT_COUNTED
            or cond == c.NONE
            or t.conds[cond + c.E_TIME] != c.DURING_EVENT
            or not in_window(case.child[c.K_BORN], day, t.rows, r + c.TO_JUDGE + c.FROM, t)
        ):
            continue
        event = event_at(cond, day, t, case)
        if event != c.NONE:
            # Without a last day it goes on: a row of time "unknown" speaks for it.
            day = max(day, trail_end(cond, last_of_event(cond, event, t, case), t) + 1)
    return day


def season_day(day: int, r: int, t: Table, case: Case) -> int:
    """First day from ``day`` on in the season of the day of the answer, or else in the next.

    A season that is over does not leave the dose due until the next one begins.
    """
    first = t.rows[r + c.SEASON_FIRST]
    last = t.rows[r + c.SEASON_LAST]
    assess = case.child[c.K_ASSESS]
    if assess <= season_end(assess, first, last, t):
        day = max(day, season_start(assess, first, t))
    else:
        day = max(day, assess)
    return move_into_season(day, first, last, t)


def would_count(day: int, g: int, season: int, t: Table, case: Case) -> bool:
    """Whether some offered row accepts a dose on ``day`` without grace."""
    among = speaking_rows(g, c.JUDGING, t, case)
    for at in range(t.starts[among], t.starts[among + 1]):
        r = t.speaking[at] * c.ROW_WIDTH
        if (
            t.rows[r + c.KIND] == c.DOSE
            and in_window(case.child[c.K_BORN], day, t.rows, r + c.TO_PLAN + c.FROM, t)
            and conditions_hold(r, day, season, t, case)
        ):
            if refusal(r, c.TO_PLAN, day, t, case) == c.R_NONE:
                return True
            if t.rows[r + c.ALONE]:
                return False
    return False


def clear_of_others(day: int, g: int, t: Table, case: Case) -> int:
    """First day from ``day`` on with no live dose or antibody product in the way."""
    family = t.groups[g * c.GROUP_WIDTH + c.G_LIVE]
    for _ in range(2):
        if family != 0:
            other = live_conflict(family, day, t, case)
            if other != c.NONE:
                day = other + t.settings[c.S_LIVE_DAYS]
        if t.groups[g * c.GROUP_WIDTH + c.G_ANTIBODY]:
            until = antibody_conflict(day, case)
            if until != c.NONE:
                day = until
    return day


def hold_back(day: int, g: int, t: Table, case: Case) -> int:
    """``day``, moved behind what stands in its way, or in the way of a dose given now.

    The first keeps a past day honest (the dose would not have counted on it), the
    second keeps today's dose from being planned too early.
    """
    if (
        t.groups[g * c.GROUP_WIDTH + c.G_LIVE] == 0
        and not t.groups[g * c.GROUP_WIDTH + c.G_ANTIBODY]
    ):
        return day
    day = clear_of_others(day, g, t, case)
    assess = case.child[c.K_ASSESS]
    if day < assess:
        held = clear_of_others(assess, g, t, case)
        if held > assess:
            day = held
    return day


def season_of_answer(g: int, t: Table, case: Case) -> int:
    """First day of the season of the day asked for, counting started anew; NONE if not yearly."""
    yearly = t.groups[g * c.GROUP_WIDTH + c.G_YEARLY]
    if yearly == c.NONE:
        return c.NONE
    season = season_start(case.child[c.K_ASSESS], yearly, t)
    if season != case.history[c.H_SEASON]:
        case.history[c.H_COUNT] = 0
        case.history[c.H_ENDED] = 0
    return season


def offered_day(r: int, g: int, season: int, t: Table, case: Case) -> int:
    """First day on which a row offers its dose; NONE when that comes too late for the row."""
    born = case.child[c.K_BORN]
    # NONE lies before every day, so a group without seasons is not moved.
    day = max(first_day(r, t, case), season)
    if case.child[c.K_LISTS] == c.DATED_LISTS:
        day = clear_of_events(day, g, t, case)
        if day < case.child[c.K_ASSESS]:
            held = clear_of_events(case.child[c.K_ASSESS], g, t, case)
            if held > case.child[c.K_ASSESS]:
                day = held
    if reached(born, max(day, case.child[c.K_ASSESS]), t.rows, r + c.TO_PLAN + c.OLD, t):
        return c.NONE
    if reached(born, day, t.rows, r + c.TO_PLAN + c.BEFORE, t) and not would_count(
        day, g, season, t, case
    ):
        return c.NONE
    return day


def forecast_group(g: int, out: Numbers, t: Table, case: Case) -> None:
    """What comes next in group ``g``; ``history`` is the one judge_group left."""
    for column in range(c.FORECAST_WIDTH):
        out[column] = c.NONE
    assess = case.child[c.K_ASSESS]
    born = case.child[c.K_BORN]
    season = season_of_answer(g, t, case)
    out[c.F_VALID] = case.history[c.H_COUNT]
    chosen = c.NONE
    closed = c.NONE
    earliest = c.NONE
    own_day = c.NONE
    among = speaking_rows(g, c.OFFERING, t, case)
    for at in range(t.starts[among], t.starts[among + 1]):
        row = t.speaking[at]
        r = row * c.ROW_WIDTH
        kind = t.rows[r + c.KIND]
        # Once a row offers a dose, other rows of that kind can only make it earlier.
        if chosen != c.NONE and (kind != c.DOSE or t.rows[chosen * c.ROW_WIDTH + c.KIND] != c.DOSE):
            continue
        past = reached(born, assess, t.rows, r + c.TO_PLAN + c.BEFORE, t)
        if past and chosen != c.NONE:
            continue
        if (
            (kind > c.NOT_COUNTED or t.rows[r + c.ALONE])
            and not past
            and not reached(born, assess, t.rows, r + c.TO_PLAN + c.FROM, t)
        ):
            continue
        if not conditions_hold(r, assess + 1, season, t, case):
            continue
        if past:
            closed = row
            continue
        if kind > c.NOT_COUNTED:
            _answer_status(out, kind, row)
            return
        day = offered_day(r, g, season, t, case)
        if day == c.NONE:
            closed = row
            continue
        if chosen == c.NONE:
            chosen = row
            earliest = day
            own_day = day
        else:
            earliest = min(earliest, day)
        if t.rows[r + c.ALONE]:
            break
    if chosen == c.NONE:
        if case.history[c.H_ENDED]:
            _answer_status(out, c.NO_FURTHER, c.NONE)
        elif closed != c.NONE:
            _answer_status(out, c.TOO_OLD, closed)
        else:
            _answer_status(out, c.NOT_RECOMMENDED, c.NONE)
        return
    _answer_dates(chosen, earliest, own_day, g, out, t, case)


def _answer_status(out: Numbers, kind: int, row: int) -> None:
    out[c.F_ROW] = row
    if kind == c.NO_FURTHER:
        out[c.F_STATUS] = c.ST_COMPLETE
    elif kind == c.IMMUNE:
        out[c.F_STATUS] = c.ST_IMMUNE
    elif kind == c.TOO_OLD:
        out[c.F_STATUS] = c.ST_AGED_OUT
    else:
        out[c.F_STATUS] = c.ST_NOT_RECOMMENDED


def late_day(r: int, g: int, due: int, t: Table, case: Case) -> int:
    """First day on which the dose is overdue; NONE when the authority names none."""
    late = c.NONE
    if t.settings[c.S_LATE_AFTER] != c.NONE:
        late = due + t.settings[c.S_LATE_AFTER]
    late = later(late, case.child[c.K_BORN], r + c.OVERDUE_AGE, t)
    if t.rows[r + c.EVENT] != c.NONE and late != c.NONE:
        late = max(late, after_event(r, c.E_LATE, case.child[c.K_ASSESS], t, case))
    # In a yearly group a dose is late only from a day of the season.
    late_from = t.groups[g * c.GROUP_WIDTH + c.G_LATE]
    if late_from != c.NONE and late != c.NONE:
        late = max(late, season_end(due, t.groups[g * c.GROUP_WIDTH + c.G_YEARLY], late_from, t))
    return late


def _answer_dates(
    row: int, earliest: int, own_day: int, g: int, out: Numbers, t: Table, case: Case
) -> None:
    r = row * c.ROW_WIDTH
    born = case.child[c.K_BORN]
    assess = case.child[c.K_ASSESS]
    due = later(own_day, born, r + c.REC_AGE, t)
    held = hold_back(own_day, g, t, case)
    until = c.NONE
    if t.settings[c.S_LIVE_HOLDS]:
        if held > max(own_day, assess):
            until = held
    else:
        due = max(due, held)
        earliest = held if earliest == own_day else max(earliest, hold_back(earliest, g, t, case))
    late = late_day(r, g, due, t, case)
    out[c.F_ROW] = row
    out[c.F_DOSE] = (
        t.rows[r + c.DOSE_NUMBER]
        if t.rows[r + c.DOSE_NUMBER] != c.NONE
        else case.history[c.H_COUNT] + 1
    )
    out[c.F_EARLIEST] = min(earliest, due)
    out[c.F_DUE] = due
    out[c.F_OVERDUE] = late
    out[c.F_UNTIL] = until
    if t.rows[r + c.TO_PLAN + c.OLD + c.DAYS] != c.FAR:
        out[c.F_LATEST] = row_day(born, r + c.TO_PLAN + c.OLD, t) - 1
        if t.rows[r + c.SEASON_FIRST] != c.NONE:
            out[c.F_LATEST] = min(
                out[c.F_LATEST],
                season_end(due, t.rows[r + c.SEASON_FIRST], t.rows[r + c.SEASON_LAST], t),
            )
    if until != c.NONE and due <= assess:
        out[c.F_STATUS] = c.ST_DEFERRED
    elif assess < due:
        out[c.F_STATUS] = c.ST_NOT_YET
    elif t.rows[r + c.SHARED]:
        out[c.F_STATUS] = c.ST_CLINICIAN
    elif late != c.NONE and assess >= late:
        out[c.F_STATUS] = c.ST_OVERDUE
    else:
        out[c.F_STATUS] = c.ST_DUE
