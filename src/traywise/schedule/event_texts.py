"""Dated conditions of a child in words, for reasons and for the chain of steps."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from traywise.calendar import Span, day_number, to_date
from traywise.record.child import Condition
from traywise.rulebook.conditions import conditions
from traywise.schedule import layout as c
from traywise.schedule.arrays import Case
from traywise.schedule.compile import Compiled
from traywise.schedule.events import event_at, last_of_event, trail_end


class Told(NamedTuple):
    """What else has to do with a group's answer, in words.

    event, kept_off, steps  dated conditions; see EventTexts
    moved                   other products and early doses; see moved_by
    """

    event: str
    kept_off: str
    moved: str
    steps: tuple[str, ...]


class EventTexts:
    """Names the condition that a row means.

    dated  the child's dated conditions, in the order of the numbers that the logic reads
    """

    def __init__(self, dated: Sequence[Condition], table: Compiled):
        self.dated = dated
        self.table = table
        self.rules = table.table()

    def of(self, row: int, day: date, case: Case) -> str:
        """The condition that a row meant on a day: "Stem-cell transplant, 2024-05-06", or ""."""
        if row == c.NONE or not self.dated:
            return ""
        cond = self.table.rows[row * c.ROW_WIDTH + c.EVENT]
        if cond == c.NONE:
            return ""
        at = event_at(cond, day_number(day), self.rules, case)
        event = self.table.row_of[row][1].event
        lasts = event.lasts if event is not None else None
        return "" if at == c.NONE else event_words(self.dated[at // c.EVENT_WIDTH], lasts)

    def kept_off(self, group: int, due: int, case: Case) -> str:
        """The row and the condition that let no dose count until the day before ``due``, or ""."""
        if due == c.NONE or not self.dated:
            return ""
        key = self.table.edition.groups[group].key
        for number, (of_group, row) in enumerate(self.table.row_of):
            if of_group != key or row.kind != "does not count" or row.event is None:
                continue
            cond = self.table.rows[number * c.ROW_WIDTH + c.EVENT]
            at = event_at(cond, due - 1, self.rules, case)
            if row.event.time != "during" or at == c.NONE:
                continue
            last = last_of_event(cond, at, self.rules, case)
            if trail_end(cond, last, self.rules) == due - 1:
                return f"{row.reason} ({event_words(self.dated[at // c.EVENT_WIDTH])})"
        return ""

    def steps(self, group: int) -> tuple[str, ...]:
        """Each dated condition that some row of a group refers to, oldest first."""
        key = self.table.edition.groups[group].key
        named = {
            name
            for of_group, row in self.table.row_of
            if of_group == key and row.event is not None
            for name in row.event.of
        }
        found = [one for one in self.dated if one.key in named]
        found.sort(key=lambda one: (one.since or one.until or date.max, one.key))
        return tuple(f"Recorded: {event_words(one)}" for one in found)


def event_words(condition: Condition, lasts: Span | None = None) -> str:
    """A condition with its days: "Chemotherapy for cancer, from 2024-05-06 to 2024-09-01".

    lasts  a condition that always lasts this long: its first day follows from its last

    >>> event_words(Condition(key="radiotherapy", until=date(2024, 9, 1)))
    'Radiotherapy, first day not recorded, until 2024-09-01'
    """
    known = conditions().get(condition.key)
    name = known.name if known else condition.key
    first, last = condition.since, condition.until
    if first is None and last is None:
        return f"{name}, no day recorded"
    if first is None and last is not None and lasts is not None:
        return f"{name}, until {last}, so from {to_date(day_number(last) - lasts.days)}"
    if first is None:
        return f"{name}, first day not recorded, until {last}"
    return f"{name}, from {first}" + (f" to {last}" if last is not None else "")
