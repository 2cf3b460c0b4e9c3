"""Checks on a whole edition, one small function each; all faults are returned together."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from traywise.calendar import Span
from traywise.errors import Fault
from traywise.rulebook.rows import Row
from traywise.rulebook.tables import place

if TYPE_CHECKING:
    from traywise.rulebook.edition import Edition, Group

_AFTER = re.compile(r"\d+( or more| to \d+)?|series|any")


def check_edition(edition: Edition, folder: Path) -> list[Fault]:
    """Every fault that only shows when the files are seen together."""
    faults: list[Fault] = []
    for group in edition.groups:
        path = folder / f"{group.key.lower()}.toml"
        for row in group.rows:
            at = place(path, f'row "{row.key}"')
            for check in (_after, _order_of_ages, _product_lists, _kind_needs):
                faults += [Fault(code, at, text) for code, text in check(row, edition)]
        faults += _speaks_after_nothing(group, path)
    return faults


def _after(row: Row, edition: Edition) -> Iterator[tuple[str, str]]:
    if isinstance(row.after, str) and not _AFTER.fullmatch(row.after):
        yield (
            "rulebook.E015",
            f'after = "{row.after}" is not understood. '
            'Write a number, "2 or more", "0 to 2", "series" or "any".',
        )


def _order_of_ages(row: Row, edition: Edition) -> Iterator[tuple[str, str]]:
    def days(span: Span | None) -> int | None:
        return None if span is None else span.months * 31 + span.days

    pairs = (
        ("age_from", row.age_from, "age_before", row.age_before),
        ("minimum_age", row.minimum_age, "too_old_from", row.too_old_from),
        ("recommended_age", row.recommended_age, "overdue_age", row.overdue_age),
    )
    for low_name, low, high_name, high in pairs:
        low_days, high_days = days(low), days(high)
        if low_days is not None and high_days is not None and low_days >= high_days:
            yield "rulebook.E016", f"{low_name} ({low}) must come before {high_name} ({high})."


def _product_lists(row: Row, edition: Edition) -> Iterator[tuple[str, str]]:
    named = [*row.counts]
    named += [rule.products for rule in row.when.doses if rule.products]
    named += [rule.not_products for rule in row.when.doses if rule.not_products]
    named += [row.after_products.products] if row.after_products else []
    for name in named:
        if name not in edition.products:
            yield (
                "rulebook.E017",
                f'"{name}" is no product list. Add it to [products] in edition.toml.',
            )


def _kind_needs(row: Row, edition: Edition) -> Iterator[tuple[str, str]]:
    if row.kind == "does not count" and not row.reason:
        yield "rulebook.E018", 'A row of kind "does not count" needs a reason.'


def _speaks_after_nothing(group: Group, path: Path) -> list[Fault]:
    if any(str(row.after).split()[0] in ("0", "any") for row in group.rows):
        return []
    text = "No row speaks for a child without doses. Add a row with after = 0."
    return [Fault("rulebook.E019", place(path), text)]
