"""Turns an edition into arrays of whole numbers, once per edition; see layout for the columns."""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.calendar import FIRST_OF, MONTH_OF, Span, day_number
from traywise.rulebook.codes import CvxEntry, cvx_codes
from traywise.rulebook.edition import load_edition
from traywise.rulebook.published import Edition, Group
from traywise.rulebook.rows import CountRule, EventRule, GroupHead, Row, When
from traywise.schedule import layout as c
from traywise.schedule.arrays import Table

KINDS = {
    "dose": c.DOSE,
    "extra dose": c.EXTRA_DOSE,
    "does not count": c.NOT_COUNTED,
    "no further dose": c.NO_FURTHER,
    "immune": c.IMMUNE,
    "too old": c.TOO_OLD,
    "not recommended": c.NOT_RECOMMENDED,
}
TIMES = {
    "before": c.BEFORE_EVENT,
    "during": c.DURING_EVENT,
    "after": c.AFTER_EVENT,
    "unknown": c.UNKNOWN_EVENT,
}
SEXES = {None: 0, "X": 0, "F": 1, "M": 2}


class Compiled(msgspec.Struct, frozen=True, kw_only=True):
    """An edition as the logic reads it.

    rows, conds, groups, settings  flat lists of whole numbers
    speaking, starts  which rows speak in which state of a group; see layout
    row_of     the row behind each row number, with its group
    bits       condition key -> bit of the child's flags
    of_cvx     CVX code -> (product list bits, group bits, live family bits)
    """

    edition: Edition
    rows: list[int]
    conds: list[int]
    groups: list[int]
    speaking: list[int]
    starts: list[int]
    settings: list[int]
    row_of: tuple[tuple[str, Row], ...]
    bits: dict[str, int]
    of_cvx: dict[str, tuple[int, int, int]]

    def table(self) -> Table:
        """The arrays as the logic takes them, with the month tables of the calendar."""
        return Table(
            rows=self.rows,
            conds=self.conds,
            groups=self.groups,
            speaking=self.speaking,
            starts=self.starts,
            settings=self.settings,
            month_of=MONTH_OF,
            first_of=FIRST_OF,
        )


@cache
def compiled(name: str) -> Compiled:
    """The compiled edition of that name."""
    return compile_edition(load_edition(name))


def compile_edition(edition: Edition) -> Compiled:
    """Compile an edition that was checked: no more lists, conditions or groups than bits."""
    lists = {name: 1 << number for number, name in enumerate(edition.products)}
    bits = {key: 1 << number for number, key in enumerate(edition.condition_keys)}
    rows: list[int] = []
    conds: list[int] = []
    groups: list[int] = []
    speaking: list[int] = []
    starts: list[int] = []
    row_of: list[tuple[str, Row]] = []
    families = {family.key: 1 << number for number, family in enumerate(edition.families)}
    for group in edition.groups:
        first = len(row_of)
        for row in group.rows:
            rows += _row_numbers(row, lists, bits, conds, edition.general.grace)
            row_of.append((group.key, row))
        groups += _group_numbers(group, len(starts), _most_counted(rows, first), families)
        _list_speaking(rows, conds, first, speaking, starts)
    starts.append(len(speaking))
    return Compiled(
        edition=edition,
        rows=rows,
        conds=conds,
        groups=groups,
        speaking=speaking,
        starts=starts,
        settings=_settings(edition, bits),
        row_of=tuple(row_of),
        bits=bits,
        of_cvx={
            code: _masks(entry, edition, lists, families) for code, entry in cvx_codes().items()
        },
    )


def _settings(edition: Edition, bits: dict[str, int]) -> list[int]:
    general = edition.general
    settings = [0] * c.SETTINGS_WIDTH
    settings[c.S_GRACE] = general.grace.days
    settings[c.S_LIVE_DAYS] = general.live_interval.days
    settings[c.S_LIVE_STRICT] = int(general.live_spacing == "every live vaccine")
    settings[c.S_LIVE_HOLDS] = int(general.live_conflict == "holds the dose back")
    settings[c.S_ANTIBODY_AFTER] = general.antibody_after_dose.days
    settings[c.S_LATE_AFTER] = general.late_after.days if general.late_after else c.NONE
    settings[c.S_DATED] = sum(bits[key] for key in edition.dated_keys)
    return settings


def _group_numbers(group: Group, lists: int, most: int, families: dict[str, int]) -> list[int]:
    numbers = [c.NONE] * c.GROUP_WIDTH
    numbers[c.G_LISTS] = lists
    numbers[c.G_MOST] = most
    if group.head.yearly is not None:
        numbers[c.G_YEARLY] = _month_day(group.head.yearly)
    if group.head.late_from is not None:
        numbers[c.G_LATE] = _month_day(group.head.late_from)
    numbers[c.G_LIVE] = sum(families[key] for key in group.head.live)
    numbers[c.G_ANTIBODY] = int(group.head.antibody_wait)
    return numbers


def _most_counted(rows: list[int], first: int) -> int:
    """The number of valid doses from which on the rows of a group make no difference."""
    bounds = [0]
    for r in range(first * c.ROW_WIDTH, len(rows), c.ROW_WIDTH):
        low, high = rows[r + c.AFTER_LOW], rows[r + c.AFTER_HIGH]
        bounds += [bound for bound in (low, high + 1) if bound < c.ANY_NUMBER]
    return max(bounds)


def _list_speaking(
    rows: list[int], conds: list[int], first: int, speaking: list[int], starts: list[int]
) -> None:
    """Append a group's row lists: for each number of valid doses, then for after the series."""
    numbers = range(first, len(rows) // c.ROW_WIDTH)
    for state in (*range(_most_counted(rows, first) + 1), c.AFTER_SERIES):
        spoken = [row for row in numbers if _speaks_after(rows, row * c.ROW_WIDTH, state)]
        undated = [row for row in spoken if rows[row * c.ROW_WIDTH + c.EVENT] == c.NONE]
        for among in (undated, spoken):
            for purpose in (c.JUDGING, c.OFFERING):
                starts.append(len(speaking))
                speaking += [
                    row for row in among if _serves(rows, conds, row * c.ROW_WIDTH, purpose)
                ]


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
    return kind != c.NOT_COUNTED and not rows[r + c.JUDGE_ONLY]


def _month_day(text: str) -> int:
    month, day = text.split("-")
    return int(month) * 32 + int(day)


_SPAN_COLUMNS = (
    (c.FROM, "age_from"),
    (c.BEFORE, "age_before"),
    (c.MIN_AGE, "minimum_age"),
    (c.COUNT_AGE, "counts_from_age"),
    (c.MIN_INT, "minimum_interval"),
    (c.COUNT_INT, "counts_from_interval"),
    (c.FIRST_INT, "interval_from_first"),
    (c.REC_AGE, "recommended_age"),
    (c.OVERDUE_AGE, "overdue_age"),
    (c.OLD, "too_old_from"),
    (c.COUNT_OLD, "counts_before"),
)


def _put_span(numbers: list[int], column: int, span: Span | None) -> None:
    if span is not None:
        numbers[column] = span.months
        numbers[column + 1] = span.days


def _row_numbers(
    row: Row, lists: dict[str, int], bits: dict[str, int], conds: list[int], grace: Span
) -> list[int]:
    numbers = [c.NONE] * c.ROW_WIDTH
    numbers[c.KIND] = KINDS[row.kind]
    numbers[c.AFTER_LOW], numbers[c.AFTER_HIGH] = _after(row.after)
    numbers[c.COND_START] = len(conds) // c.COND_WIDTH
    if row.event is not None:
        numbers[c.EVENT] = len(conds)
        conds += _dated(row.event, bits)
    for condition in _conditions(row.when, lists, bits, grace):
        conds += condition
    numbers[c.COND_END] = len(conds) // c.COND_WIDTH
    for column, name in _SPAN_COLUMNS:
        _put_span(numbers, column, getattr(row, name))
    numbers[c.COUNTS] = sum(lists[name] for name in row.counts)
    if row.given_from is not None:
        numbers[c.GIVEN_FROM] = day_number(row.given_from)
    if row.given_before is not None:
        numbers[c.GIVEN_BEFORE] = day_number(row.given_before)
    numbers[c.ENDS] = int(row.ends_series)
    numbers[c.JUDGE_ONLY] = int(row.judge_only)
    numbers[c.ALONE] = int(row.alone)
    numbers[c.CAMPAIGN] = int(row.given_in_campaign)
    numbers[c.SHARED] = int(row.shared_decision)
    numbers[c.GRACE_AGE] = int(row.grace in ("", "age only"))
    numbers[c.GRACE_INT] = int(row.grace in ("", "interval only"))
    if row.season is not None:
        numbers[c.SEASON_FIRST] = _month_day(row.season.first)
        numbers[c.SEASON_LAST] = _month_day(row.season.last)
    numbers[c.OTHER] = 0
    if row.after_products is not None:
        numbers[c.OTHER] = lists[row.after_products.products]
        _put_span(numbers, c.OTHER_INT, row.after_products.interval)
    if row.dose is not None:
        numbers[c.DOSE_NUMBER] = row.dose
    return numbers


def _after(after: int | str) -> tuple[int, int]:
    if isinstance(after, int):
        return after, after
    if after == "series":
        return c.AFTER_SERIES, c.AFTER_SERIES
    if after == "any":
        return 0, c.AFTER_SERIES
    low, *rest = after.split(" ")
    if not rest:
        return int(low), int(low)
    return int(low), c.ANY_NUMBER if rest[-1] == "more" else int(rest[-1])


def _conditions(
    when: When, lists: dict[str, int], bits: dict[str, int], grace: Span
) -> list[list[int]]:
    # The order does not matter to the answer; what is quick to ask comes first.
    found = []
    for kind, keys in (
        (c.CHILD_ALL, when.child),
        (c.CHILD_ANY, when.child_any),
        (c.CHILD_NONE, when.child_none),
    ):
        if keys:
            condition = _condition(kind, None, None)
            condition[c.C_MASK] = sum({bits[key] for key in keys})
            found.append(condition)
    if when.sex is not None:
        condition = _condition(c.SEX, None, None)
        condition[c.C_LEAST] = SEXES[when.sex]
        found.append(condition)
    # The logic takes the grace days off every age that selects; adding them keeps an exact one.
    exact = grace if when.exact_ages else Span()
    for kind, low, high, more in (
        (c.FIRST_AGE, when.first_dose_from, when.first_dose_before, exact),
        (c.PREVIOUS_AGE, when.previous_dose_from, when.previous_dose_before, exact),
        (c.LAST_INTERVAL, when.last_interval_from, when.last_interval_before, Span()),
    ):
        if low is not None or high is not None:
            found.append(_condition(kind, _later(low, more), _later(high, more)))
    return found + [_count(rule, lists) for rule in when.doses]


def _dated(event: EventRule, bits: dict[str, int]) -> list[int]:
    numbers = [0] * c.COND_WIDTH
    numbers[c.C_KIND] = c.DATED
    numbers[c.E_TIME] = TIMES[event.time] + (c.LAST_DAY if event.day == "last" else 0)
    numbers[c.E_MASK] = sum({bits[key] for key in event.of})
    numbers[c.E_LEAD] = event.lead.days - event.opens.days
    _put_span(numbers, c.E_TRAIL, event.trail)
    if event.trail != Span():
        numbers[c.E_TRAIL_D] -= 1  # the last day of the time is the one before the trail is over
    numbers[c.E_LASTS] = event.lasts.days if event.lasts is not None else c.NONE
    numbers[c.E_MIN] = numbers[c.E_LATE] = c.NONE
    _put_span(numbers, c.E_MIN, event.minimum_interval)
    _put_span(numbers, c.E_LATE, event.overdue_interval)
    return numbers


def _later(span: Span | None, more: Span) -> Span | None:
    return None if span is None else Span(span.months + more.months, span.days + more.days)


def _condition(kind: int, low: Span | None, high: Span | None) -> list[int]:
    numbers = [0] * c.COND_WIDTH
    numbers[c.C_KIND] = kind
    numbers[c.C_FROM] = numbers[c.C_BEFORE] = c.NONE
    _put_span(numbers, c.C_FROM, low)
    _put_span(numbers, c.C_BEFORE, high)
    return numbers


def _count(rule: CountRule, lists: dict[str, int]) -> list[int]:
    numbers = _condition(c.COUNT_DOSES, rule.age_from, rule.age_before)
    numbers[c.C_MASK] = lists[rule.products] if rule.products else 0
    numbers[c.C_NOT_MASK] = lists[rule.not_products] if rule.not_products else 0
    numbers[c.C_LEAST] = rule.at_least
    numbers[c.C_MOST] = rule.at_most
    if rule.before_season:
        numbers[c.C_AMONG] = c.BEFORE_SEASON
    elif rule.since_event:
        numbers[c.C_AMONG] = c.SINCE_EVENT
    numbers[c.C_GIVEN] = int(rule.given)
    return numbers


def serves(head: GroupHead, entry: CvxEntry) -> bool:
    """Whether doses of a CVX code are judged by a group."""
    if entry.code in head.not_cvx:
        return False
    if head.only_cvx:
        return entry.code in head.only_cvx
    held = [antigen in entry.antigens for antigen in head.antigens]
    return any(held) if head.any_antigen else all(held)


def _masks(
    entry: CvxEntry, edition: Edition, lists: dict[str, int], families: dict[str, int]
) -> tuple[int, int, int]:
    products = sum(bit for name, bit in lists.items() if entry.code in edition.products[name])
    groups = sum(
        1 << number for number, group in enumerate(edition.groups) if serves(group.head, entry)
    )
    live = 0
    for family in edition.families:
        if entry.live and (entry.code in family.cvx or set(family.antigens) & set(entry.antigens)):
            live |= families[family.key]
    return products, groups, live
