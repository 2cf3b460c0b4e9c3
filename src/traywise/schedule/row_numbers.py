"""A row of an edition and its conditions as whole numbers; see layout for the columns."""

from __future__ import annotations

from traywise.calendar import Span, day_number, days_in_months
from traywise.rulebook.rows import CountRule, EventRule, Row, When
from traywise.schedule import layout as c

KINDS = {
    "dose": c.DOSE,
    "beside the series": c.BESIDE,
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


def row_numbers(
    row: Row, lists: dict[str, int], bits: dict[str, int], conds: list[int], grace: Span
) -> list[int]:
    """The numbers of a row.

    lists, bits  bits of the edition's product lists and conditions of children
    conds        the row's conditions are appended to these
    grace        grace days of the edition
    """
    numbers = [c.NONE] * c.FIRST_SPAN
    numbers[c.KIND] = KINDS[row.kind]
    numbers[c.AFTER_LOW], numbers[c.AFTER_HIGH] = _after(row.after)
    numbers[c.COND_START] = len(conds) // c.COND_WIDTH
    of_child = [] if row.event is None else [_dated(row.event, bits)]
    if row.event is not None:
        numbers[c.EVENT] = len(conds)
    of_child += _child_conditions(row.when, bits)
    numbers[c.COND_PLAIN] = numbers[c.COND_START] + len(of_child)
    for condition in of_child + _conditions(row.when, lists, grace.days):
        conds += condition
    numbers[c.COND_END] = len(conds) // c.COND_WIDTH
    numbers[c.COUNTS] = sum(lists[name] for name in row.counts)
    if row.given_from is not None:
        numbers[c.GIVEN_FROM] = day_number(row.given_from)
    if row.given_before is not None:
        numbers[c.GIVEN_BEFORE] = day_number(row.given_before)
    numbers[c.ENDS] = int(row.ends_series)
    numbers[c.JUDGE_ONLY] = int(row.judge_only)
    numbers[c.ALONE] = int(row.alone)
    numbers[c.CAMPAIGN] = int(row.given_in_campaign)
    numbers[c.GIVEN_WITH] = sum(lists[name] for name in row.given_with)
    numbers[c.EVENT_GRACE] = _grace_on_given_intervals(row, grace.days)
    numbers[c.SHARED] = int(row.shared_decision)
    if row.season is not None:
        numbers[c.SEASON_FIRST] = month_day(row.season.first)
        numbers[c.SEASON_LAST] = month_day(row.season.last)
    numbers[c.OTHER] = 0
    if row.after_products is not None:
        numbers[c.OTHER] = lists[row.after_products.products]
    if row.dose is not None:
        numbers[c.DOSE_NUMBER] = row.dose
    numbers += _limits(row, grace.days)
    numbers += _span_numbers(row.recommended_age, -c.FAR)
    return numbers + _span_numbers(row.overdue_age, -c.FAR)


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


def month_day(text: str) -> int:
    """``MM-DD`` as month * 32 + day of month."""
    month, day = text.split("-")
    return int(month) * 32 + int(day)


def _limits(row: Row, grace: int) -> list[int]:
    """A row's limits for planning a dose, then those for judging one; as in layout."""
    after = row.after_products
    age_grace = grace if row.grace in ("", "age only") else 0
    given_grace = _grace_on_given_intervals(row, grace)
    window_grace = age_grace if KINDS[row.kind] <= c.NOT_COUNTED else 0
    numbers = []
    for age, old, interval, windows, ages, intervals, others in (
        (row.minimum_age, row.too_old_from, row.minimum_interval, 0, 0, 0, 0),
        (
            row.counts_from_age or row.minimum_age,
            row.counts_before or row.too_old_from,
            row.counts_from_interval or row.minimum_interval,
            window_grace,
            age_grace,
            given_grace,
            given_grace,
        ),
    ):
        numbers += _span_numbers(row.age_from, -c.FAR, windows)
        numbers += _span_numbers(row.age_before, c.FAR, windows)
        numbers += _span_numbers(age, -c.FAR, ages)
        numbers += _span_numbers(old, c.FAR)
        numbers += _span_numbers(interval, -c.FAR, intervals)
        numbers += _span_numbers(row.interval_from_first, -c.FAR, others)
        numbers += _span_numbers(after.interval if after else None, -c.FAR, others)
    return numbers


def _span_numbers(span: Span | None, missing: int, less: int = 0) -> list[int]:
    """The four columns of a span, ``less`` days taken off; ``missing`` days where there is none."""
    if span is None:
        return [0, missing, missing, missing]
    least, most = days_in_months(span.months)
    days = span.days - less
    return [span.months, days, least + days, most + days]


def _grace_on_given_intervals(row: Row, grace: int) -> int:
    """Grace days on the intervals before a dose given."""
    # What a dose given by mistake needs is the last word: no grace comes on top.
    if row.counts_from_interval is not None or row.grace not in ("", "interval only"):
        return 0
    return grace


def _child_conditions(when: When, bits: dict[str, int]) -> list[list[int]]:
    """What a row asks of the child's conditions."""
    found = []
    for kind, keys in (
        (c.CHILD_ALL, when.child),
        (c.CHILD_ANY, when.child_any),
        (c.CHILD_NONE, when.child_none),
    ):
        if keys:
            condition = _condition(kind)
            condition[c.C_MASK] = sum({bits[key] for key in keys})
            found.append(condition)
    return found


def _conditions(when: When, lists: dict[str, int], grace: int) -> list[list[int]]:
    """What a row asks of sex and history."""
    # The order does not matter to the answer; what is quick to ask comes first.
    found = []
    if when.sex is not None:
        condition = _condition(c.SEX)
        condition[c.C_LEAST] = SEXES[when.sex]
        found.append(condition)
    # Every age that selects takes the grace days, unless the row wants it exact.
    age_grace = 0 if when.exact_ages else grace
    for kind, low, high, less in (
        (c.FIRST_AGE, when.first_dose_from, when.first_dose_before, age_grace),
        (c.PREVIOUS_AGE, when.previous_dose_from, when.previous_dose_before, age_grace),
        (c.LAST_INTERVAL, when.last_interval_from, when.last_interval_before, grace),
    ):
        if low is not None or high is not None:
            found.append(_condition(kind, low, high, less))
    return found + [_count(rule, lists, age_grace) for rule in when.doses]


def _dated(event: EventRule, bits: dict[str, int]) -> list[int]:
    numbers = [0] * c.COND_WIDTH
    numbers[c.C_KIND] = c.DATED
    numbers[c.E_TIME] = TIMES[event.time] + (c.LAST_DAY if event.day == "last" else 0)
    numbers[c.E_MASK] = sum({bits[key] for key in event.of})
    numbers[c.E_LEAD] = event.lead.days - event.opens.days
    numbers[c.E_TRAIL : c.E_TRAIL_D + 1] = event.trail.months, event.trail.days
    if event.trail != Span():
        numbers[c.E_TRAIL_D] -= 1  # the last day of the time is the one before the trail is over
    numbers[c.E_LASTS] = event.lasts.days if event.lasts is not None else c.NONE
    numbers[c.E_MIN] = numbers[c.E_LATE] = c.NONE
    for column, span in ((c.E_MIN, event.minimum_interval), (c.E_LATE, event.overdue_interval)):
        if span is not None:
            numbers[column : column + 2] = span.months, span.days
    return numbers


def _condition(
    kind: int, low: Span | None = None, high: Span | None = None, less: int = 0
) -> list[int]:
    numbers = [0] * c.C_FROM
    numbers[c.C_KIND] = kind
    return numbers + _span_numbers(low, -c.FAR, less) + _span_numbers(high, c.FAR, less)


def _count(rule: CountRule, lists: dict[str, int], grace: int) -> list[int]:
    numbers = _condition(c.COUNT_DOSES, rule.age_from, rule.age_before, grace)
    numbers[c.C_MASK] = lists[rule.products] if rule.products else 0
    numbers[c.C_NOT_MASK] = lists[rule.not_products] if rule.not_products else 0
    numbers[c.C_LEAST] = rule.at_least
    numbers[c.C_MOST] = rule.at_most
    if rule.before_season:
        numbers[c.C_AMONG] = c.BEFORE_SEASON
    elif rule.since_event:
        numbers[c.C_AMONG] = c.SINCE_EVENT
    elif rule.within_before_event is not None:
        numbers[c.C_AMONG] = c.NEAR_EVENT
        numbers[c.C_WITHIN] = rule.within_before_event.months
        numbers[c.C_WITHIN_D] = rule.within_before_event.days
    numbers[c.C_GIVEN] = int(rule.given)
    return numbers
