"""What besides its row moved a group's due day: a live vaccine, an antibody product, an early dose.

In: the numbers that the logic left behind. Out: a sentence, or "". It decides nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from traywise.calendar import to_date
from traywise.schedule import layout as c
from traywise.schedule.arrays import Case, Table
from traywise.schedule.conditions import later, row_day
from traywise.schedule.forecast import offered_day, season_of_answer
from traywise.schedule.spacing import antibody_conflict, live_conflict


def moved_by(out: Sequence[int], g: int, t: Table, case: Case) -> str:
    """Why group ``g`` is due no sooner, where its row and its valid doses do not say it.

    out  the group's forecast; its row offers a dose
    """
    if out[c.F_DUE] == c.NONE or out[c.F_ROW] == c.NONE:
        return ""
    found = _standing_in_the_way(out, g, t, case)
    if not found or _due_by_the_row(out, g, t, case) == out[c.F_DUE]:
        return ""
    return f"Not before {to_date(out[c.F_DUE])}: {found}."


def _standing_in_the_way(out: Sequence[int], g: int, t: Table, case: Case) -> str:
    """What ends exactly on the due day, in words, or ""."""
    due = out[c.F_DUE]
    r = out[c.F_ROW] * c.ROW_WIDTH
    days = t.settings[c.S_LIVE_DAYS]
    if t.groups[g * c.GROUP_WIDTH + c.G_ANTIBODY] and antibody_conflict(due - 1, case) == due:
        return f"antibody product of {to_date(_antibody_until(due, case))}"
    family = t.groups[g * c.GROUP_WIDTH + c.G_LIVE]
    other = live_conflict(family, due - 1, t, case) if family else c.NONE
    if other != c.NONE and other + days == due:
        return f"{days} days after the live vaccine of {to_date(other)}"
    bad = case.history[c.H_LIVE_BAD]
    if bad != c.NONE and bad + days == due:
        return f"{days} days after the live dose of {to_date(bad)}, which did not count"
    base = case.history[c.H_BASE]
    if base != _base_of_series(out, case) and row_day(base, r + c.TO_PLAN + c.MIN_INT, t) == due:
        early = ", which came too early" if base != _last_valid(case) else ""
        return f"counted from the dose of {to_date(base)}{early}"
    return ""


def _antibody_until(due: int, case: Case) -> int:
    """Day of the antibody product that holds a dose back until ``due``."""
    received = case.antibodies[: 2 * case.child[c.K_ANTIBODIES]]
    return max(on for on, end in zip(received[::2], received[1::2], strict=True) if end == due)


def _last_valid(case: Case) -> int:
    total = case.history[c.H_TOTAL]
    return case.valid[2 * total - 2] if total else c.NONE


def _base_of_series(out: Sequence[int], case: Case) -> int:
    """Day of the last valid dose, NONE before the first of the series (of this season)."""
    return _last_valid(case) if out[c.F_VALID] > 0 else c.NONE


def _due_by_the_row(out: Sequence[int], g: int, t: Table, case: Case) -> int:
    """The due day if nothing but the row and the valid doses counted; NONE where it is no longer.

    A dose on a past day is dated by the row alone: what lay in its way then counts, too.
    """
    history = list(case.history)
    history[c.H_BASE] = _base_of_series(out, case)
    history[c.H_LIVE_BAD] = c.NONE
    alone = case._replace(history=history)
    row = out[c.F_ROW]
    day = offered_day(row * c.ROW_WIDTH, g, season_of_answer(g, t, alone), t, alone)
    if day == c.NONE:
        return c.NONE
    return later(day, case.child[c.K_BORN], row * c.ROW_WIDTH + c.REC_AGE, t)
