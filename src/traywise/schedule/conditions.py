"""When a row speaks: number of valid doses, age window, season, conditions on history and child."""

from traywise.calendar import add_span
from traywise.schedule import layout as c
from traywise.schedule.arrays import Case, Numbers, Table
from traywise.schedule.events import dated_holds


def row_day(base: int, at: int, t: Table) -> int:
    """``base`` plus the span in the columns of ``rows`` at ``at``."""
    return add_span(base, t.rows[at], t.rows[at + c.DAYS], t.month_of, t.first_of)


def season_start(day: int, yearly: int, t: Table) -> int:
    """First day of the season that holds ``day``; ``yearly`` is month * 32 + day of month."""
    january = t.month_of[day] - t.month_of[day] % 12
    start = t.first_of[january + yearly // 32 - 1] + yearly % 32 - 1
    if start > day:
        start = t.first_of[january - 12 + yearly // 32 - 1] + yearly % 32 - 1
    return start


def move_into_season(day: int, first: int, last: int, t: Table) -> int:
    """``day`` if it lies in the season, else the next first day of the season."""
    if day <= season_end(day, first, last, t):
        return day
    start = season_start(day, first, t)
    january = t.month_of[start] - t.month_of[start] % 12 + 12
    return t.first_of[january + first // 32 - 1] + first % 32 - 1


def season_end(day: int, first: int, last: int, t: Table) -> int:
    """Last day of the season that holds ``day``; arguments as for move_into_season."""
    start = season_start(day, first, t)
    january = t.month_of[start] - t.month_of[start] % 12
    if last < first:
        january += 12
    return t.first_of[january + last // 32 - 1] + last % 32 - 1


def later(day: int, base: int, at: int, t: Table) -> int:
    """The later of ``day`` and ``base`` plus the span in the columns of ``rows`` at ``at``."""
    if base + t.rows[at + c.MOST] <= day:
        return day
    return max(day, row_day(base, at, t))


def reached(base: int, day: int, table: Numbers, at: int, t: Table) -> bool:
    """Whether ``base`` plus the span in ``table`` at ``at`` is reached on ``day``."""
    gap = day - base
    if gap < table[at + c.LEAST]:
        return False
    if gap >= table[at + c.MOST]:
        return True
    return day >= add_span(base, table[at], table[at + c.DAYS], t.month_of, t.first_of)


def in_window(base: int, day: int, table: Numbers, at: int, t: Table) -> bool:
    """Whether ``day`` lies in [base + from, base + before), two spans side by side."""
    return reached(base, day, table, at, t) and not reached(base, day, table, at + c.SPAN_WIDTH, t)


def count_doses(cond: int, day: int, season: int, since: int, t: Table, case: Case) -> int:
    """How many earlier doses satisfy the description of a COUNT_DOSES condition.

    since  first day of the row's dated condition
    """
    count = 0
    among = t.conds[cond + c.C_AMONG]
    born = case.child[c.K_BORN]
    if t.conds[cond + c.C_GIVEN]:
        mask = t.conds[cond + c.C_MASK]
        if mask != 0 and case.child[c.K_GIVEN] & mask == 0:
            return 0
        for i in range(case.child[c.K_DOSES]):
            at = i * c.DOSE_WIDTH
            on = case.doses[at + c.D_DAY]
            if on < day and _described(cond, born, on, case.doses[at + c.D_PRODUCTS], t):
                count += 1
        return count
    counted = c.NONE
    for i in range(case.history[c.H_TOTAL]):
        on = case.valid[2 * i]
        if on == counted:
            continue
        if among == c.BEFORE_SEASON and on >= season:
            continue
        if among == c.SINCE_EVENT and on < since:
            continue
        if among == c.NEAR_EVENT:
            within = t.conds[cond + c.C_WITHIN]
            days = t.conds[cond + c.C_WITHIN_D]
            if add_span(on, within, days, t.month_of, t.first_of) <= since:
                continue
        if _described(cond, born, on, case.valid[2 * i + 1], t):
            count += 1
            counted = on
    return count


def _described(cond: int, born: int, on: int, products: int, t: Table) -> bool:
    if t.conds[cond + c.C_MASK] != 0 and products & t.conds[cond + c.C_MASK] == 0:
        return False
    if t.conds[cond + c.C_NOT_MASK] != 0 and products & t.conds[cond + c.C_NOT_MASK] != 0:
        return False
    return in_window(born, on, t.conds, cond + c.C_FROM, t)


def conditions_hold(r: int, day: int, season: int, t: Table, case: Case) -> bool:
    """Whether every condition of a row holds for a dose on ``day``."""
    total = case.history[c.H_TOTAL]
    since = c.NONE
    start = c.COND_PLAIN if case.child[c.K_LISTS] == c.PLAIN_LISTS else c.COND_START
    for number in range(t.rows[r + start], t.rows[r + c.COND_END]):
        cond = number * c.COND_WIDTH
        kind = t.conds[cond + c.C_KIND]
        if kind == c.FIRST_AGE:
            good = total > 0 and in_window(
                case.child[c.K_BORN], case.valid[0], t.conds, cond + c.C_FROM, t
            )
        elif kind == c.PREVIOUS_AGE:
            good = total > 0 and in_window(
                case.child[c.K_BORN], case.valid[2 * total - 2], t.conds, cond + c.C_FROM, t
            )
        elif kind == c.LAST_INTERVAL:
            good = total > 1 and in_window(
                case.valid[2 * total - 4], case.valid[2 * total - 2], t.conds, cond + c.C_FROM, t
            )
        elif kind == c.COUNT_DOSES:
            count = count_doses(cond, day, season, since, t, case)
            good = t.conds[cond + c.C_LEAST] <= count <= t.conds[cond + c.C_MOST]
        elif kind == c.CHILD_ALL:
            good = case.child[c.K_FLAGS] & t.conds[cond + c.C_MASK] == t.conds[cond + c.C_MASK]
        elif kind == c.CHILD_ANY:
            good = case.child[c.K_FLAGS] & t.conds[cond + c.C_MASK] != 0
        elif kind == c.CHILD_NONE:
            good = case.child[c.K_FLAGS] & t.conds[cond + c.C_MASK] == 0
        elif kind == c.DATED:
            good, since = dated_holds(cond, day, t, case)
        else:
            good = case.child[c.K_SEX] == t.conds[cond + c.C_LEAST]
        if not good:
            return False
    return True


def lists_of(flags: int, events: int, t: Table) -> int:
    """Which row lists a child with these conditions and so many dated ones reads."""
    if events > 0 or flags & t.settings[c.S_DATED] != 0:
        return c.DATED_LISTS
    return c.FLAGGED_LISTS if flags != 0 else c.PLAIN_LISTS


def speaking_rows(g: int, purpose: int, t: Table, case: Case) -> int:
    """Which list of ``speaking`` holds the rows for this number of valid doses, as printed."""
    most = t.groups[g * c.GROUP_WIDTH + c.G_MOST]
    state = min(case.history[c.H_COUNT], most)
    if case.history[c.H_ENDED] == 1:
        state = most + 1
    lists = t.groups[g * c.GROUP_WIDTH + c.G_LISTS] + case.child[c.K_LISTS]
    return lists + state * c.LISTS + purpose


def given_on(mask: int, day: int, case: Case) -> bool:
    """Whether a dose of these products was given on ``day``."""
    if case.child[c.K_GIVEN] & mask == 0:
        return False
    for i in range(case.child[c.K_DOSES]):
        at = i * c.DOSE_WIDTH
        if case.doses[at + c.D_DAY] == day and case.doses[at + c.D_PRODUCTS] & mask != 0:
            return True
    return False


def last_given(mask: int, day: int, case: Case) -> int:
    """Day of the last dose of these products before ``day``, or NONE."""
    last = c.NONE
    if case.child[c.K_GIVEN] & mask == 0:
        return last
    for i in range(case.child[c.K_DOSES]):
        at = i * c.DOSE_WIDTH
        if case.doses[at + c.D_PRODUCTS] & mask != 0 and last < case.doses[at + c.D_DAY] < day:
            last = case.doses[at + c.D_DAY]
    return last
