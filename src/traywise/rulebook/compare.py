"""Two editions side by side: what differs, row by row, in the words of the table.

Rows are matched by their keys; an overlay keeps the keys of its edition. Where two
editions share no keys, every row shows as only in one of them.
"""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from traywise.calendar import Span
from traywise.rulebook.in_words import FIELDS, condition_words, dose_words, value_words
from traywise.rulebook.published import Edition, Group
from traywise.rulebook.rows import Row
from traywise.rulebook.tables import describe_source


class FieldChange(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that a row, a group or the general rules say differently."""

    field: str
    old: str
    new: str


class RowChange(msgspec.Struct, frozen=True, kw_only=True):
    """A row that differs. ``row`` is "" for the group's head; ``group`` "" for general rules.

    summary  of a row that only one edition has: its answer in one line
    """

    group: str
    row: str
    kind: Literal["changed", "only in the first", "only in the second"]
    summary: str = ""
    fields: tuple[FieldChange, ...] = ()


def compare(first: Edition, second: Edition, group: str | None = None) -> tuple[RowChange, ...]:
    """Every difference, general rules first, then group by group in printed order."""
    found: list[RowChange] = []
    if group is None:
        general = _fields(first.general, second.general, GENERAL)
        if general:
            found.append(RowChange(group="", row="", kind="changed", fields=general))
    olds = {one.key: one for one in first.groups}
    news = {one.key: one for one in second.groups}
    for key in dict.fromkeys((*olds, *news)):
        if group is None or key == group:
            found += _compare_group(key, olds.get(key), news.get(key))
    return tuple(found)


GENERAL = {
    "grace": "grace days",
    "live_interval": "interval between live vaccines",
    "live_spacing": "live vaccines that are spaced",
    "live_conflict": "a live vaccine too near",
    "antibody_after_dose": "antibody product spoils a dose within",
    "late_after": "overdue after",
}
HEAD = {
    "name": "name",
    "antigens": "antigens",
    "only_cvx": "CVX codes",
    "not_cvx": "CVX codes left out",
    "yearly": "counting starts anew on",
    "late_from": "overdue not before",
    "live": "families of live vaccine",
    "antibody_wait": "waits after antibody products",
}


def _compare_group(key: str, old: Group | None, new: Group | None) -> list[RowChange]:
    if old is None or new is None:
        one = old or new
        kind: Literal["only in the first", "only in the second"] = (
            "only in the first" if new is None else "only in the second"
        )
        count = len(one.rows) if one else 0
        return [RowChange(group=key, row="", kind=kind, summary=f"the whole group, {count} rows")]
    found = []
    head = _fields(old.head, new.head, HEAD)
    if head:
        found.append(RowChange(group=key, row="", kind="changed", fields=head))
    olds = {row.key: row for row in old.rows}
    news = {row.key: row for row in new.rows}
    for row_key in _in_order(list(olds), list(news)):
        before, after = olds.get(row_key), news.get(row_key)
        if before is not None and after is not None:
            fields = _fields(before, after, FIELDS)
            if fields:
                found.append(RowChange(group=key, row=row_key, kind="changed", fields=fields))
        elif before is not None:
            found.append(_only(key, before, "only in the first"))
        elif after is not None:
            found.append(_only(key, after, "only in the second"))
    return found


def _in_order(old: list[str], new: list[str]) -> list[str]:
    """Both lists of keys in one printed order: a new key stands where the second has it."""
    found = list(new)
    for at, key in enumerate(old):
        if key not in found:
            before = next((k for k in reversed(old[:at]) if k in found), None)
            found.insert(found.index(before) + 1 if before else 0, key)
    return found


def _only(
    group: str, row: Row, kind: Literal["only in the first", "only in the second"]
) -> RowChange:
    return RowChange(group=group, row=row.key, kind=kind, summary=summary_of(row))


def summary_of(row: Row) -> str:
    """A row in one line.

    >>> summary_of(Row(key="X-1", minimum_age=Span(months=12), source="from memory"))
    'dose 1; minimum age 12 months'
    """
    dose = dose_words(row)
    parts = [value_words("kind", row.kind) if dose == "-" else f"dose {dose}"]
    for name in ("recommended_age", "minimum_age", "minimum_interval", "interval_from_first"):
        span: Span | None = getattr(row, name)
        if span is not None:
            parts.append(f"{FIELDS[name]} {span}")
    parts += condition_words(row)
    parts += ["ends the series"] if row.ends_series else []
    parts += ["clinician decides"] if row.shared_decision else []
    return "; ".join(parts)


def _fields(old: Any, new: Any, names: dict[str, str]) -> tuple[FieldChange, ...]:
    found = []
    for name, words in names.items():
        before, after = getattr(old, name), getattr(new, name)
        if before == after:
            continue
        if name == "source":
            found.append(FieldChange(field=words, **_sources(before, after)))
            continue
        texts = [value_words(name, value) for value in (before, after)]
        found.append(FieldChange(field=words, old=texts[0], new=texts[1]))
    return tuple(found)


def _sources(old: str, new: str) -> dict[str, str]:
    """The sources that only one of the two cites, in a reader's words."""
    olds, news = old.split("; "), new.split("; ")
    gone = "; ".join(part for part in olds if part not in news)
    come = "; ".join(part for part in news if part not in olds)
    return {
        "old": describe_source(gone) if gone else "as it was",
        "new": describe_source(come) if come else "as it was",
    }
