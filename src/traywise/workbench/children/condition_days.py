"""A child's conditions with their days: the slots of the form, the lines of the child's page.

What a condition's first and last day mean stands in the rulebook's text of it; this file only
takes the words apart. A condition may stand twice, for two times it held (two courses of a
treatment): each is a slot of its own, so that neither is lost when the other is changed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from traywise.record.child import Condition
from traywise.rulebook.conditions import ConditionRow, conditions

DAYS_PER_WEEK = 7
COUNTED_IN_WEEKS = 104  # longer times say nothing more in weeks


class Meaning(NamedTuple):
    """What the first and the last day of a condition are, in the rulebook's words; "" if plain."""

    since: str = ""
    until: str = ""


def meaning_of(row: ConditionRow) -> Meaning:
    """The words of the rulebook about the days of a condition.

    >>> meaning_of(conditions()["chemotherapy"])
    Meaning(since='its first day', until='its last')
    >>> meaning_of(conditions()["asthma"])
    Meaning(since='', until='')
    """
    words = dict.fromkeys(("from", "until"), "")
    for part in row.text.removeprefix(row.name).strip(" ()").split("; "):
        which, colon, what = part.partition(": ")
        if colon and which in words:
            words[which] = what
    return Meaning(words["from"], words["until"])


class Slot(NamedTuple):
    """One line of the form: a condition on record, or one that may be ticked.

    value  how it is named in the form: the key, from the second time on with a number
    kept   what the record says now; None when it is not on record
    again  the condition is on record already, and this slot takes another time of it
    """

    value: str
    key: str
    kept: Condition | None = None
    again: bool = False

    @property
    def name(self) -> str:
        row = conditions().get(self.key)
        name = row.name if row else self.key
        return f"{name}, another time" if self.again else name

    @property
    def meaning(self) -> Meaning:
        row = conditions().get(self.key)
        return meaning_of(row) if row else Meaning()


def slots_of(kept: Sequence[Condition]) -> list[Slot]:
    """What is on record first, in its order; then every condition of the rulebook by its name."""
    times: Counter[str] = Counter()
    on_record = []
    for condition in kept:
        times[condition.key] += 1
        value = _value(condition.key, times[condition.key])
        on_record.append(Slot(value, condition.key, condition))
    open_slots = [
        Slot(_value(key, times[key] + 1), key, again=times[key] > 0)
        for key, row in conditions().items()
        if not times[key] or any(meaning_of(row))
    ]
    return on_record + sorted(open_slots, key=lambda slot: slot.name.casefold())


def _value(key: str, time: int) -> str:
    return key if time == 1 else f"{key}.{time}"


class Line(NamedTuple):
    """A condition as the child's page shows it: name, days, and which day is wanted."""

    name: str
    days: str
    is_over: bool
    wanted: str = ""


def line_of(condition: Condition, on: date) -> Line:
    """One condition in words, as of a day.

    >>> line_of(Condition(key="pregnant", since=date(2026, 5, 5)), date(2026, 11, 25))
    Line(name='Pregnant', days='from 2026-05-05, 29 weeks + 1 day', is_over=False, wanted='')
    """
    row = conditions().get(condition.key)
    wanted = meaning_of(row).since if row and condition.since is None else ""
    return Line(
        name=row.name if row else condition.key,
        days=days_in_words(condition, on),
        is_over=condition.until is not None and condition.until < on,
        wanted=wanted,
    )


def days_in_words(condition: Condition, on: date | None = None) -> str:
    """The days that are known; with ``on`` also how long it has held by then."""
    since, until = condition.since, condition.until
    parts = [f"from {since}"] if since else []
    if since and on and since <= on <= (until or on):
        weeks, days = divmod((on - since).days, DAYS_PER_WEEK)
        if weeks < COUNTED_IN_WEEKS:
            parts.append(f"{_count(weeks, 'week')} + {_count(days, 'day')}")
    if until:
        parts.append(f"until {until}")
    return ", ".join(parts) or "days not known"


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def changes_in_words(before: Sequence[Condition], after: Sequence[Condition]) -> list[str]:
    """What changed between two lists, a sentence for each condition, for the trail."""
    gone, new = list(before), []
    for condition in after:
        if condition in gone:
            gone.remove(condition)
        else:
            new.append(condition)
    said = []
    for condition in new:
        old = next((one for one in gone if one.key == condition.key), None)
        if old is not None:
            gone.remove(old)
        was = f", was: {days_in_words(old)}" if old else ", new"
        said.append(f"{condition.key}: {days_in_words(condition)}{was}")
    return said + [f"{one.key}: taken out, was: {days_in_words(one)}" for one in gone]
