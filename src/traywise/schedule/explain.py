"""Turns verdicts, row numbers and dates into short sentences with their sources."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from traywise.calendar import Span, add, age_on, format_age, to_date
from traywise.record.child import Child, DoseGiven
from traywise.rulebook.codes import cvx_codes
from traywise.rulebook.published import Group
from traywise.rulebook.rows import Row, Season
from traywise.schedule import layout as c
from traywise.schedule.answer import DoseVerdict
from traywise.schedule.compile import Compiled
from traywise.schedule.event_texts import Told

VERDICTS = {c.VALID: "valid", c.NOT_VALID: "not valid", c.EXTRA: "extra"}

REASONS = {
    c.R_PRODUCT: "vaccine not for this use",
    c.R_TOO_YOUNG: "age too young",
    c.R_TOO_OLD: "age too old",
    c.R_INTERVAL: "interval too short",
    c.R_INTERVAL_FIRST: "interval from the first dose too short",
    c.R_OTHER_PRODUCT: "too soon after another vaccine",
    c.R_LIVE: "live vaccine conflict",
    c.R_ANTIBODY: "antibody product too near",
    c.R_PARTIAL: "less than a full dose",
    c.R_EXPIRED: "given after its expiry date",
    c.R_COMPLETE: "series already complete",
    c.R_SAME_DAY: "second dose of the group on the same day",
    c.R_EVENT: "too soon after an event",
    c.R_NO_ROW: "no row of the schedule speaks of it",
}


def explain_verdict(
    verdict: Sequence[int],
    dose: DoseGiven,
    child: Child,
    group: Group,
    table: Compiled,
    event: str = "",
) -> DoseVerdict:
    """The verdict on a dose in words: "interval too short: 2026-02-01 or later (row DTaP-2)".

    event  the dated condition that the row means, in words
    """
    row = table.row_of[verdict[c.V_ROW]][1] if verdict[c.V_ROW] != c.NONE else None
    code = verdict[c.V_REASON]
    reason: str | None = None
    if code == c.R_DOES_NOT_COUNT and row is not None:
        reason = row.reason or "does not count"
        if event:
            reason += f" ({event})"
    elif code == c.R_EVENT and row is not None and row.event is not None:
        reason = f"{row.event.minimum_interval} needed after: {event}"
    elif code != c.R_NONE:
        reason = REASONS[code]
        detail = _detail(code, row, dose, child)
        if detail:
            reason += f": {detail}"
    source = row.source if row else table.edition.general.source
    if code in (c.R_LIVE, c.R_ANTIBODY, c.R_PARTIAL, c.R_EXPIRED, c.R_SAME_DAY):
        source = table.edition.general.source
    return DoseVerdict(
        status=VERDICTS[verdict[c.V_STATUS]],
        reason=reason,
        row=row.key if row else "",
        source=source,
    )


def _detail(code: int, row: Row | None, dose: DoseGiven, child: Child) -> str:
    if row is None:
        return ""
    if code == c.R_TOO_YOUNG:
        needed = row.counts_from_age or row.minimum_age or row.age_from
        if needed is not None:
            return f"{format_age(age_on(child.born, dose.on))}, counts from {needed}"
    if code == c.R_INTERVAL:
        interval = row.counts_from_interval or row.minimum_interval
        return f"{_as_interval(interval)} needed" if interval else ""
    if code == c.R_INTERVAL_FIRST and row.interval_from_first:
        return f"{_as_interval(row.interval_from_first)} needed"
    if code == c.R_OTHER_PRODUCT and row.after_products:
        return f"{_as_interval(row.after_products.interval)} after {row.after_products.products}"
    if code == c.R_TOO_OLD:
        limit = row.counts_before or row.too_old_from or row.age_from
        return f"{format_age(age_on(child.born, dose.on))}, limit {limit}" if limit else ""
    return ""


def _as_interval(span: Span) -> str:
    return "no wait" if span == Span() else str(span)


def explain_forecast(
    out: Sequence[int],
    status: str,
    child: Child,
    group: str,
    row: Row | None,
    table: Compiled,
    words: Told,
) -> tuple[str, str]:
    """(short reason, source) of a group's answer."""
    if row is None:
        text = {
            "complete": "All doses of the series were given.",
            "not recommended": "Given only with certain conditions; none of them is recorded.",
            "aged out": "Past the ages at which this edition gives it.",
        }.get(status, "")
        return text, _group_source(group, table)
    if status in ("complete", "immune", "aged out", "not recommended"):
        # A row that would have offered a dose explains the dose, not its absence.
        text = "" if row.kind == "dose" else row.why
        return text or _status_text(status, row), row.source
    season = next(one.head.yearly for one in table.edition.groups if one.key == group)
    if season is not None and season == f"{to_date(out[c.F_DUE]):%m-%d}":
        parts = [f"Anew each season; this one counts from {to_date(out[c.F_DUE])}."]
    else:
        parts = [_date_reason(out, child, row, words.event)]
    if out[c.F_UNTIL] != c.NONE:
        parts.append(f"Held back until {to_date(out[c.F_UNTIL])} by another product.")
    elif words.kept_off:
        due = to_date(out[c.F_DUE])
        parts.append(f"Not before {due}: a dose would not count, {words.kept_off}.")
    elif words.moved:
        parts.append(words.moved)
    if row.kind == "extra dose":
        parts.append("This dose does not count towards the series.")
    if row.why:
        parts.append(row.why)
    return " ".join(part for part in parts if part), row.source


def _group_source(group: str, table: Compiled) -> str:
    """Source of the first dose that a group offers: who gives it to whom."""
    rows = next(one.rows for one in table.edition.groups if one.key == group)
    offered = (
        row.source
        for row in rows
        if row.kind == "dose" and row.event is None and not row.judge_only
    )
    return next(offered, table.edition.general.source)


def _season_words(season: Season) -> str:
    """A season as people say it: "1 October to 31 March"."""
    first, last = (date.fromisoformat(f"2000-{day}") for day in (season.first, season.last))
    return f"{first.day} {first:%B} to {last.day} {last:%B}"


def _status_text(status: str, row: Row) -> str:
    limit = row.too_old_from or row.age_before
    if status == "aged out" and limit is not None and row.season is not None:
        season = _season_words(row.season)
        return f"Given only in the season, {season}, and not from {limit} of age."
    if status == "aged out" and limit is not None:
        return f"Not given from {limit} of age."
    return {"complete": "No further dose is needed.", "immune": "Immune by history."}.get(
        status, ""
    )


def _date_reason(out: Sequence[int], child: Child, row: Row, event: str) -> str:
    due = to_date(out[c.F_DUE])
    if row.recommended_age is not None and add(child.born, row.recommended_age) == due:
        return f"Recommended at {_age_words(row.recommended_age)}."
    if row.event is not None and row.event.time == "unknown":
        return ""
    needs = []
    if row.event is not None and row.event.minimum_interval is not None and event:
        day = "last" if row.event.day == "last" else "first"
        interval = row.event.minimum_interval
        needs.append(f"{_from_day(interval)} {day} day ({event})")
    if row.minimum_interval is not None and out[c.F_VALID] > 0:
        needs.append(f"{row.minimum_interval} after the dose before")
    if row.interval_from_first is not None:
        needs.append(f"{row.interval_from_first} after the first")
    if row.after_products is not None:
        needs.append(f"{row.after_products.interval} after {row.after_products.products}")
    if row.minimum_age is not None and row.minimum_age != Span():
        needs.append(f"from {row.minimum_age} of age")
    if row.season is not None:
        needs.append(f"in the season, {_season_words(row.season)}")
    # The age that only chose the row is no age to wait for.
    rule = ""
    if row.minimum_age is None and row.age_from is not None:
        rule = f"rule for children from {row.age_from} of age"
    if not needs:
        return f"By the {rule}." if rule else ""
    return f"Earliest {', '.join(needs)}{f' ({rule})' if rule else ''}."


def _from_day(interval: Span) -> str:
    return "from the" if interval == Span() else f"{interval} after the"


def _age_words(span: Span) -> str:
    return "birth" if span == Span() else str(span)


def explain_chain(
    group: str,
    order: Sequence[DoseGiven],
    verdicts_of: Sequence[dict[str, DoseVerdict]],
    status: str,
    text: str,
    source: str,
    recorded: tuple[str, ...] = (),
) -> tuple[str, ...]:
    """Every step that led to a group's answer, oldest first, each with row and source.

    recorded  dated conditions that the group's rows refer to
    """
    steps = list(recorded)
    for dose, verdicts in zip(order, verdicts_of, strict=True):
        verdict = verdicts.get(group)
        if verdict is None:
            continue
        name = cvx_codes()[dose.cvx].name if dose.cvx in cvx_codes() else f"CVX {dose.cvx}"
        reason = f": {verdict.reason}" if verdict.reason else ""
        row = f" (row {verdict.row}; {verdict.source})" if verdict.row else f" ({verdict.source})"
        steps.append(f"{dose.on} {name}: {verdict.status}{reason}{row}")
    steps.append(f"Now {status}: {text} ({source})")
    return tuple(steps)
