"""Which rows of a group speak in which state: lists, so that the others are not even looked at."""

from __future__ import annotations

from traywise.schedule import layout as c


def list_speaking(
    rows: list[int], conds: list[int], first: int, speaking: list[int], starts: list[int]
) -> None:
    """Append a group's row lists: for each number of valid doses, then for after the series."""
    numbers = range(first, len(rows) // c.ROW_WIDTH)
    for state in (*range(most_counted(rows, first) + 1), c.AFTER_SERIES):
        spoken = [row for row in numbers if _speaks_after(rows, row * c.ROW_WIDTH, state)]
        flagged = [row for row in spoken if rows[row * c.ROW_WIDTH + c.EVENT] == c.NONE]
        plain = [row for row in flagged if not _asks_for_condition(rows, conds, row * c.ROW_WIDTH)]
        for among in (plain, flagged, spoken):
            for purpose in (c.JUDGING, c.OFFERING):
                starts.append(len(speaking))
                speaking += [
                    row for row in among if _serves(rows, conds, row * c.ROW_WIDTH, purpose)
                ]


def most_counted(rows: list[int], first: int) -> int:
    """The number of valid doses from which on the rows of a group make no difference."""
    bounds = [0]
    for r in range(first * c.ROW_WIDTH, len(rows), c.ROW_WIDTH):
        low, high = rows[r + c.AFTER_LOW], rows[r + c.AFTER_HIGH]
        bounds += [bound for bound in (low, high + 1) if bound < c.ANY_NUMBER]
    return max(bounds)


def _asks_for_condition(rows: list[int], conds: list[int], r: int) -> bool:
    """Whether a row speaks only to children with some condition."""
    return any(
        conds[number * c.COND_WIDTH + c.C_KIND] in (c.CHILD_ALL, c.CHILD_ANY)
        for number in range(rows[r + c.COND_START], rows[r + c.COND_END])
    )


def _speaks_after(rows: list[int], r: int, count: int) -> bool:
    """Whether a row speaks after ``count`` valid doses, or AFTER_SERIES."""
    low, high = rows[r + c.AFTER_LOW], rows[r + c.AFTER_HIGH]
    return low <= count <= high


def _serves(rows: list[int], conds: list[int], r: int, purpose: int) -> bool:
    """Whether a row takes part in judging doses given, or in offering the next."""
    kind = rows[r + c.KIND]
    if purpose == c.JUDGING:
        # Where a condition's day is not known, nothing can be said of a dose given.
        event = rows[r + c.EVENT]
        undated = event != c.NONE and conds[event + c.E_TIME] % c.LAST_DAY == c.UNKNOWN_EVENT
        return kind not in (c.IMMUNE, c.NOT_RECOMMENDED) and not undated
    return kind not in (c.NOT_COUNTED, c.BESIDE) and not rows[r + c.JUDGE_ONLY]
