"""A group of an edition as the table a clinician knows, line by line."""

from __future__ import annotations

from traywise.calendar import Span
from traywise.rulebook.in_words import ANSWERS, RowInWords, condition_words, dose_words
from traywise.rulebook.published import Edition
from traywise.rulebook.rows import Row
from traywise.rulebook.tables import is_from_memory


def group_in_words(edition: Edition, group: str) -> tuple[RowInWords, ...]:
    """The rows of a group in printed order; raises KeyError when there is no such group."""
    known = {one.key: one for one in edition.groups}
    return tuple(_line(row, edition) for row in known[group].rows)


def _line(row: Row, edition: Edition) -> RowInWords:
    return RowInWords(
        key=row.key,
        dose=dose_words(row),
        recommended=_span(row.recommended_age),
        minimum_age=_span(row.minimum_age if row.minimum_age is not None else row.age_from),
        minimum_interval=_interval(row),
        conditions=condition_words(row),
        ends_series=row.ends_series,
        remark=_remark(row),
        source=row.source,
        from_memory=is_from_memory(row.source),
        overlaid=row.key in edition.overlaid_rows,
    )


def _span(span: Span | None) -> str:
    return "-" if span is None else str(span)


def _interval(row: Row) -> str:
    parts = [] if row.minimum_interval is None else [str(row.minimum_interval)]
    if row.interval_from_first is not None:
        parts.append(f"{row.interval_from_first} from dose 1")
    return "; ".join(parts) or "-"


def _remark(row: Row) -> str:
    counts = []
    if row.counts_from_age is not None:
        counts.append(f"from {row.counts_from_age} of age")
    if row.counts_from_interval is not None:
        counts.append(f"{row.counts_from_interval} after the dose before")
    if row.counts_before is not None:
        counts.append(f"before {row.counts_before} of age")
    parts = [
        f"{ANSWERS[row.kind].capitalize()}." if row.kind in ANSWERS else "",
        "Only judges doses given." if row.judge_only else "",
        "Urgent: within hours." if row.urgent else "",
        "Clinician decides." if row.shared_decision else "",
        "No row below speaks beside it." if row.alone else "",
        row.why,
        f"Reason: {row.reason}." if row.reason else "",
        f"A dose given counts {', '.join(counts)}." if counts else "",
        f"Give {', '.join(row.may_serve)}." if row.may_serve else "",
        "Ends the series." if row.ends_series else "",
    ]
    return " ".join(part for part in parts if part)
