"""Checks on a whole edition, one small function each; all faults are returned together."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from traywise.calendar import Span
from traywise.errors import Fault
from traywise.rulebook.conditions import conditions
from traywise.rulebook.rows import Row
from traywise.rulebook.tables import place
from traywise.rulebook.vaccines import vaccine_names

if TYPE_CHECKING:
    from traywise.rulebook.published import Edition, Group

MOST_BITS = 62  # of one whole number in the compiled rows; a bit a list, a condition, a group
_AFTER = re.compile(r"\d+( or more| to \d+)?|series|any")
_PUBLISHED = re.compile(r"\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01]))?)?")


def check_edition(edition: Edition, folder: Path) -> list[Fault]:
    """Every fault that only shows when the files are seen together.

    A row that an overlay changed is named with the overlays, for the fault may lie there.
    """
    faults = [*_head(edition, folder / "edition.toml"), *_too_many(edition, folder)]
    overlays = f"with {' and '.join(edition.overlays)}" if edition.overlays else ""
    for group in edition.groups:
        path = folder / f"{group.key.lower()}.toml"
        for row in group.rows:
            laid = overlays if row.key in edition.overlaid_rows else ""
            at = place(path, f'row "{row.key}"', laid)
            for check in CHECKS:
                faults += [Fault(code, at, text) for code, text in check(row, edition)]
        faults += _speaks_after_nothing(group, path)
        faults += _live_families(group, edition, path)
    return faults


def _head(edition: Edition, path: Path) -> list[Fault]:
    published = edition.head.published
    if _PUBLISHED.fullmatch(published):
        return []
    text = f'published = "{published}" is not a date. Write YYYY, YYYY-MM or YYYY-MM-DD.'
    return [Fault("rulebook.E028", place(path, "published"), text)]


def _too_many(edition: Edition, folder: Path) -> list[Fault]:
    sizes = {
        "product lists": len(edition.products),
        "conditions": len(edition.condition_keys),
        "groups": len(edition.groups),
    }
    return [
        Fault(
            "rulebook.E024",
            place(folder / "edition.toml"),
            f"{size} {what}; at most {MOST_BITS} fit. Merge some.",
        )
        for what, size in sizes.items()
        if size > MOST_BITS
    ]


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
    named = [*row.counts, *row.given_with]
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
    if row.kind in ("does not count", "beside the series") and not row.reason:
        yield "rulebook.E018", f'A row of kind "{row.kind}" needs a reason.'


def _condition_keys(row: Row, edition: Edition) -> Iterator[tuple[str, str]]:
    derived = {item.key for item in edition.derived}
    asked = (*row.when.child, *row.when.child_any, *row.when.child_none)
    for key in (*asked, *(row.event.of if row.event else ())):
        if key not in conditions() and key not in derived:
            yield (
                "rulebook.E025",
                f'"{key}" is no condition. Use a key of tables/conditions.toml, or add it there.',
            )


def _vaccine_keys(row: Row, edition: Edition) -> Iterator[tuple[str, str]]:
    for key in row.may_serve:
        if key not in vaccine_names():
            yield (
                "rulebook.E026",
                f'may_serve names "{key}", which is no vaccine. '
                "Use a key or family of tables/vaccines.toml.",
            )


def _event(row: Row, edition: Edition) -> Iterator[tuple[str, str]]:
    """What a row says of a dated condition fits together."""
    event = row.event
    yield from _counted_near_event(row)
    if event is None:
        return
    if not event.of:
        yield "rulebook.E037", "event names no condition. List at least one key in of."
    for name, span in (("lead", event.lead), ("opens", event.opens), ("lasts", event.lasts)):
        if span is not None and span.months:
            yield "rulebook.E037", f"event.{name} ({span}) is in months. Write weeks or days."
    margins = (event.lead, event.opens, event.trail)
    if any(span != Span() for span in margins) and event.time != "during":
        yield "rulebook.E037", 'lead, opens and trail belong to an event of time "during".'
    if event.lead != Span() and event.opens != Span():
        yield "rulebook.E037", "lead and opens contradict each other. Keep one."
    if event.day == "last" and event.time in ("before", "during"):
        yield "rulebook.E037", f'day = "last" says nothing at time "{event.time}". Remove it.'
    counted = event.minimum_interval is not None or event.overdue_interval is not None
    if counted and (event.time in ("before", "unknown") or row.kind not in ("dose", "extra dose")):
        yield (
            "rulebook.E037",
            'An interval of an event needs time "during" or "after" and a row that gives a dose.',
        )


def _counted_near_event(row: Row) -> Iterator[tuple[str, str]]:
    """What a row says of doses near its dated condition fits together."""
    dated = row.event is not None and row.event.time != "unknown"
    for rule in row.when.doses:
        near = rule.within_before_event
        for name, asked in (("since_event", rule.since_event), ("within_before_event", near)):
            if asked and not dated:
                yield (
                    "rulebook.E037",
                    f"{name} needs an event with its day. Add one to the row.",
                )
        if near is None:
            continue
        if near == Span():
            yield (
                "rulebook.E037",
                "within_before_event is no time at all. Write since_event = true for that.",
            )
        for name in ("since_event", "before_season", "given"):
            if getattr(rule, name):
                yield (
                    "rulebook.E037",
                    f"within_before_event and {name} contradict each other. Keep one.",
                )


def _how_given(row: Row, edition: Edition) -> Iterator[tuple[str, str]]:
    if row.kind in ("does not count", "extra dose"):
        return
    for name in ("given_in_campaign", "given_with"):
        if getattr(row, name):
            yield (
                "rulebook.E038",
                f'{name} belongs to a row of kind "does not count" or "extra dose".',
            )


CHECKS = (
    _after,
    _order_of_ages,
    _product_lists,
    _kind_needs,
    _condition_keys,
    _vaccine_keys,
    _event,
    _how_given,
)


def _speaks_after_nothing(group: Group, path: Path) -> list[Fault]:
    if any(str(row.after).split()[0] in ("0", "any") for row in group.rows):
        return []
    text = "No row speaks for a child without doses. Add a row with after = 0."
    return [Fault("rulebook.E019", place(path), text)]


def _live_families(group: Group, edition: Edition, path: Path) -> list[Fault]:
    known = [family.key for family in edition.families]
    return [
        Fault(
            "rulebook.E029",
            place(path, "group", "live"),
            f'"{key}" is no family of live vaccines of the edition. Families: {", ".join(known)}.',
        )
        for key in group.head.live
        if key not in known
    ]
