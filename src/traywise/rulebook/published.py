"""What an edition is once it is read: a published schedule, dated, with its overlays."""

from __future__ import annotations

from datetime import date

import msgspec

from traywise.calendar import Span, add
from traywise.rulebook.rows import Derived, EditionHead, General, GroupHead, LiveFamily, Row

OUT_OF_DATE_AFTER = Span(months=12)


class Group(msgspec.Struct, frozen=True, kw_only=True):
    """A group and its rows in printed order."""

    head: GroupHead
    rows: tuple[Row, ...]

    @property
    def key(self) -> str:
        return self.head.key


class Edition(msgspec.Struct, frozen=True, kw_only=True):
    """A published schedule, dated, with the overlays laid on it."""

    head: EditionHead
    general: General
    groups: tuple[Group, ...]
    products: dict[str, tuple[str, ...]]  # list name -> CVX codes
    families: tuple[LiveFamily, ...]
    derived: tuple[Derived, ...]
    overlays: tuple[str, ...] = ()  # keys, in the order they were laid on
    overlaid_rows: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()  # what every output must say about this edition

    @property
    def name(self) -> str:
        """Key with its overlays: ``us-2025+clinic-x``."""
        return "+".join((self.head.key, *self.overlays))

    @property
    def condition_keys(self) -> tuple[str, ...]:
        """Every condition of a child that the rows ask for, each once, derived ones first."""
        keys = {item.key: None for item in self.derived}
        for group in self.groups:
            for row in group.rows:
                asked = (*row.when.child, *row.when.child_any, *row.when.child_none)
                for key in (*asked, *(row.event.of if row.event else ())):
                    keys[key] = None
        return tuple(keys)

    @property
    def dated_keys(self) -> tuple[str, ...]:
        """Every condition whose first or last day a row refers to, each once."""
        rows = (row for group in self.groups for row in group.rows)
        return tuple(dict.fromkeys(key for row in rows if row.event for key in row.event.of))

    def group(self, key: str) -> Group:
        return next(group for group in self.groups if group.key == key)

    def is_out_of_date(self, on: date) -> bool:
        """True when the edition was published more than a year before ``on``."""
        year, _, rest = self.head.published.partition("-")
        month, _, day = rest.partition("-")
        published = date(int(year), int(month or 1), int(day or 1))
        return add(published, OUT_OF_DATE_AFTER) < on
