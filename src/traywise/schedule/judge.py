"""Evaluate and forecast: one piece of rule logic over compiled rows.

Plain functions over one-dimensional arrays of whole numbers. One child runs
them as they stand; ``population.kernel`` compiles the very same functions. They
return day numbers, codes and row numbers; words are made in ``explain``.

The walk: the doses of a group are taken in order of their days. At each dose
the rows that speak (number of valid doses so far, conditions, age window) are
tried in printed order; the first that accepts makes the dose valid. If none
does, the first refusal is the reason. A dose that came too early restarts the
interval of its step (ACIP General Best Practice Guidelines, Timing and
Spacing); a first dose that came too early restarts nothing, unless it is live
(CDC CDSi test cases, 2013). The forecast asks the same rows for the first day
on which they would accept.

Argument names: ``r`` offset of a row in ``rows``, ``cond`` offset of a condition,
``g`` number of a group.
"""

from traywise.schedule import layout as c
from traywise.schedule.arrays import Case, Numbers, Table
from traywise.schedule.conditions import (
    conditions_hold,
    given_on,
    in_window,
    last_given,
    reached,
    season_start,
    speaking_rows,
)
from traywise.schedule.events import after_event
from traywise.schedule.spacing import antibody_after, antibody_conflict, live_conflict


def refusal(r: int, limits: int, day: int, t: Table, case: Case) -> int:
    """R_NONE when the row accepts a dose on ``day``, else why not.

    limits  TO_PLAN, or TO_JUDGE a dose given: what still counts
    """
    at = r + limits
    born = case.child[c.K_BORN]
    if not reached(born, day, t.rows, at + c.MIN_AGE, t):
        return c.R_TOO_YOUNG
    if reached(born, day, t.rows, at + c.OLD, t):
        return c.R_TOO_OLD
    base = case.history[c.H_BASE]
    if base != c.NONE and not reached(base, day, t.rows, at + c.MIN_INT, t):
        return c.R_INTERVAL
    if case.history[c.H_TOTAL] > 0 and not reached(case.valid[0], day, t.rows, at + c.FIRST_INT, t):
        return c.R_INTERVAL_FIRST
    # NONE lies before every day: where no day of an event is known none is asked for.
    if t.rows[r + c.EVENT] != c.NONE:
        less = t.rows[r + c.EVENT_GRACE] if limits == c.TO_JUDGE else 0
        if day < after_event(r, c.E_MIN, day, t, case) - less:
            return c.R_EVENT
    if t.rows[r + c.OTHER] != 0:
        other = last_given(t.rows[r + c.OTHER], day, case)
        if other != c.NONE and not reached(other, day, t.rows, at + c.OTHER_INT, t):
            return c.R_OTHER_PRODUCT
    return c.R_NONE


def disturbed(live: int, g: int, day: int, t: Table, case: Case) -> int:
    """R_LIVE or R_ANTIBODY when another product spoils an otherwise valid dose, else R_NONE."""
    moves = t.settings[c.S_LIVE_HOLDS] == 0
    if live != 0 and moves and live_conflict(live, day, t, case) != c.NONE:
        return c.R_LIVE
    if t.groups[g * c.GROUP_WIDTH + c.G_ANTIBODY] and (
        antibody_conflict(day, case) != c.NONE or antibody_after(day, t, case)
    ):
        return c.R_ANTIBODY
    return c.R_NONE


def judge_dose(i: int, g: int, verdicts: Numbers, t: Table, case: Case) -> None:
    """Judge dose ``i`` for group ``g``: writes the verdict, moves the history on."""
    at = i * c.DOSE_WIDTH
    day = case.doses[at + c.D_DAY]
    products = case.doses[at + c.D_PRODUCTS]
    out = i * c.VERDICT_WIDTH
    yearly = t.groups[g * c.GROUP_WIDTH + c.G_YEARLY]
    if yearly != c.NONE:
        start = season_start(day, yearly, t)
        if start != case.history[c.H_SEASON]:
            case.history[c.H_SEASON] = start
            case.history[c.H_COUNT] = 0
            case.history[c.H_ENDED] = 0
    live = case.doses[at + c.D_LIVE]
    verdicts[out + c.V_STATUS] = c.NOT_VALID
    verdicts[out + c.V_ROW] = c.NONE
    if case.doses[at + c.D_FLAW] != c.FLAW_NONE:
        verdicts[out + c.V_REASON] = (
            c.R_PARTIAL if case.doses[at + c.D_FLAW] == c.FLAW_PARTIAL else c.R_EXPIRED
        )
        if live != 0:
            case.history[c.H_LIVE_BAD] = day
        return
    if day == case.history[c.H_LAST_DAY]:
        verdicts[out + c.V_STATUS] = c.EXTRA
        verdicts[out + c.V_REASON] = c.R_SAME_DAY
        return
    reason, row = find_row(day, products, g, t, case)
    if reason == c.R_NONE:
        reason = disturbed(live, g, day, t, case)
    verdicts[out + c.V_REASON] = reason
    verdicts[out + c.V_ROW] = row
    if reason == c.R_NONE:
        case.valid[2 * case.history[c.H_TOTAL]] = day
        case.valid[2 * case.history[c.H_TOTAL] + 1] = products
        case.history[c.H_TOTAL] += 1
        case.history[c.H_BASE] = day
        if t.rows[row * c.ROW_WIDTH + c.KIND] == c.BESIDE:
            verdicts[out + c.V_STATUS] = c.EXTRA
            verdicts[out + c.V_REASON] = c.R_DOES_NOT_COUNT
            return
        verdicts[out + c.V_STATUS] = c.VALID
        case.history[c.H_COUNT] += 1
        case.history[c.H_LAST_DAY] = day
        if t.rows[row * c.ROW_WIDTH + c.ENDS]:
            case.history[c.H_ENDED] = 1
        return
    if reason == c.R_COMPLETE or reason == c.R_TOO_OLD:
        verdicts[out + c.V_STATUS] = c.EXTRA
        return
    if live != 0:
        case.history[c.H_LIVE_BAD] = day
    early = reason == c.R_TOO_YOUNG or reason == c.R_INTERVAL or reason == c.R_INTERVAL_FIRST
    if early and case.history[c.H_TOTAL] > 0:
        case.history[c.H_BASE] = day


def kept_on(day: int, case: Case) -> bool:
    """Whether the last dose that is valid or beside the series was given on ``day``."""
    total = case.history[c.H_TOTAL]
    return total > 0 and case.valid[2 * total - 2] == day


def find_row(day: int, products: int, g: int, t: Table, case: Case) -> tuple[int, int]:
    """(R_NONE, row that accepts a dose given) or (reason, row that refuses it first)."""
    refused = c.R_NO_ROW
    refused_by = c.NONE
    future = c.NONE
    born = case.child[c.K_BORN]
    among = speaking_rows(g, c.JUDGING, t, case)
    for number in range(t.starts[among], t.starts[among + 1]):
        row = t.speaking[number]
        r = row * c.ROW_WIDTH
        kind = t.rows[r + c.KIND]
        at = r + c.TO_JUDGE
        if not in_window(born, day, t.rows, at + c.FROM, t):
            # A window that has not opened yet: too young, if nothing else speaks.
            if (
                kind == c.DOSE
                and future == c.NONE
                and not reached(born, day, t.rows, at + c.FROM, t)
                and conditions_hold(r, day, case.history[c.H_SEASON], t, case)
            ):
                future = row
            continue
        excluded = t.rows[r + c.COUNTS] != 0 and products & t.rows[r + c.COUNTS] == 0
        if c.DOSE < kind <= c.NOT_COUNTED and (
            excluded
            or (t.rows[r + c.GIVEN_FROM] != c.NONE and day < t.rows[r + c.GIVEN_FROM])
            or (t.rows[r + c.GIVEN_BEFORE] != c.NONE and day >= t.rows[r + c.GIVEN_BEFORE])
            or (t.rows[r + c.CAMPAIGN] and products & c.CAMPAIGN_BIT == 0)
            or (t.rows[r + c.GIVEN_WITH] != 0 and not given_on(t.rows[r + c.GIVEN_WITH], day, case))
        ):
            continue
        if not conditions_hold(r, day, case.history[c.H_SEASON], t, case):
            continue
        if kind == c.EXTRA_DOSE or kind == c.NOT_COUNTED:
            return c.R_DOES_NOT_COUNT, row
        if kind == c.NO_FURTHER or kind == c.TOO_OLD:
            if refused == c.R_NO_ROW:
                return (c.R_COMPLETE if kind == c.NO_FURTHER else c.R_TOO_OLD), row
            continue
        reason = c.R_PRODUCT
        if not excluded:
            reason = refusal(r, c.TO_JUDGE, day, t, case)
        if kind == c.BESIDE and reason == c.R_INTERVAL and kept_on(day, case):
            reason = c.R_NONE
        if reason == c.R_NONE:
            return c.R_NONE, row
        # The last refusal is the most lenient row's; a wrong product is the weakest reason.
        if reason != c.R_PRODUCT or refused == c.R_NO_ROW:
            refused = reason
            refused_by = row
        if t.rows[r + c.ALONE]:
            break
    if refused != c.R_NO_ROW:
        return refused, refused_by
    if case.history[c.H_ENDED]:
        return c.R_COMPLETE, c.NONE
    if future != c.NONE:
        return c.R_TOO_YOUNG, future
    return c.R_TOO_OLD, c.NONE


def judge_group(g: int, verdicts: Numbers, t: Table, case: Case) -> None:
    """Judge every dose of a group in order; leaves the history ready for the forecast.

    verdicts  zeros at the start: NOT_OF_GROUP for the doses of other groups
    """
    for column in range(c.HISTORY_WIDTH):
        case.history[column] = c.NONE
    case.history[c.H_COUNT] = 0
    case.history[c.H_TOTAL] = 0
    case.history[c.H_ENDED] = 0
    for at in range(len(case.own)):
        judge_dose(case.own[at], g, verdicts, t, case)
