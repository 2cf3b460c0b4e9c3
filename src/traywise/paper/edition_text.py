"""Editions as text for a terminal: the list, one group as a table, two editions compared."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from traywise.paper.columns import WIDTH, Page, pad, wrap
from traywise.rulebook.compare import RowChange
from traywise.rulebook.in_words import RowInWords
from traywise.rulebook.published import Edition
from traywise.rulebook.rows import OverlayHead
from traywise.rulebook.tables import describe_source

CELLS = (("Dose", 8), ("Recommended", 14), ("Minimum age", 14), ("Minimum interval", 18))
_LEAST_ROOM = 20  # columns in which conditions may be wrapped
FROM_MEMORY = "from memory, not confirmed"


def list_text(
    editions: Sequence[Edition],
    overlays: Sequence[OverlayHead],
    on: date,
    *,
    width: int = WIDTH,
) -> str:
    """Every edition with what fits on it; what is out of date is said."""
    page = Page(width)
    lines: list[str] = []
    for edition in editions:
        head = edition.head
        old = "; published more than a year ago: check for a newer one"
        lines += page.hanging(f"{head.key}  ", head.title)
        late = old if edition.is_out_of_date(on) else ""
        lines += page.hanging("  published  ", f"{head.published}, {head.publisher}{late}")
        lines += page.hanging("  covers     ", head.covers)
        lines += page.hanging("  groups     ", ", ".join(head.groups))
        lines += page.hanging("  note       ", head.note) if head.note else []
        fitting = [one for one in overlays if head.key in one.on]
        lines.append(f"  overlays that fit (--edition {head.key}+KEY):")
        lines += page.table([(one.key, one.published, one.title) for one in fitting], indent=4)
        for one in fitting:
            lines += page.hanging("    ! ", one.warning) if one.warning else []
        lines.append("")
    return "\n".join(lines).rstrip()


def group_text(
    edition: Edition, group: str, rows: Iterable[RowInWords], *, width: int = WIDTH
) -> str:
    """One group as the published table, each row with its remarks and its source below."""
    page = Page(width)
    head = next(one.head for one in edition.groups if one.key == group)
    title = f"{head.key}, {head.name}"
    lines = page.wrap(f"{title}  ({edition.name}, {edition.head.published})")
    for warning in edition.warnings:
        lines += page.hanging("! ", warning)
    cells = "".join(pad(name, width) for name, width in CELLS)
    lines += ["", cells + ("When" if _room_for_when(page) else ""), "-" * page.width]
    for row in rows:
        lines += _row_lines(page, row)
    return "\n".join(line.rstrip() for line in lines)


def _room_for_when(page: Page) -> int:
    """Columns left for the conditions; 0 on a narrow page, where they stand below the row."""
    room = page.width - sum(width for _, width in CELLS)
    return room if room >= _LEAST_ROOM else 0


def _row_lines(page: Page, row: RowInWords) -> list[str]:
    values = (row.dose, row.recommended, row.minimum_age, row.minimum_interval)
    columns = [wrap(v, width - 1) for v, (_, width) in zip(values, CELLS, strict=True)]
    widths = [width for _, width in CELLS]
    when, room = "; ".join(row.conditions) or "always", _room_for_when(page)
    if room:
        columns.append(wrap(when, room))
        widths.append(room)
    lines = []
    for at in range(max(map(len, columns))):
        parts = [
            pad(column[at] if at < len(column) else "", width)
            for column, width in zip(columns, widths, strict=True)
        ]
        lines.append("".join(parts).rstrip())
    marks = [row.key, *([FROM_MEMORY] if row.from_memory else [])]
    marks += ["set by an overlay"] if row.overlaid else []
    below = " ".join(part for part in (f"[{'; '.join(marks)}]", row.remark) if part)
    lines += [] if room else page.hanging(" " * 8, f"When: {when}")
    lines += page.hanging(" " * 8, below)
    lines += page.hanging(" " * 8, f"Source: {describe_source(row.source)}")
    return [*lines, ""]


def compare_text(
    first: Edition, second: Edition, changes: Sequence[RowChange], *, width: int = WIDTH
) -> str:
    """What differs, in words, group by group."""
    page = Page(width)
    lines = [
        *page.hanging("first   ", f"{first.name}, {first.head.published}, {first.head.publisher}"),
        *page.hanging(
            "second  ", f"{second.name}, {second.head.published}, {second.head.publisher}"
        ),
    ]
    for warning in dict.fromkeys((*first.warnings, *second.warnings)):
        lines += page.hanging("! ", warning)
    shown: str | None = None
    for change in changes:
        if change.group != shown:
            lines += ["", change.group or "General rules"]
            shown = change.group
        lines += _change_lines(page, change)
    if not changes:
        lines += ["", "No difference."]
    return "\n".join(line.rstrip() for line in lines)


def _change_lines(page: Page, change: RowChange) -> list[str]:
    name = change.row or ("group" if change.group else "rules")
    if change.kind != "changed":
        return page.hanging(f"  {name}: ", f"{change.kind}: {change.summary}")
    lines = [f"  {name}:"]
    for field in change.fields:
        lines += page.hanging(f"    {field.field}: ", f"{field.old} -> {field.new}")
    return lines
