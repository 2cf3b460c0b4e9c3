"""A row of an edition in the words of the published table: what a clinician reads, cell by cell."""

from __future__ import annotations

from typing import Any

import msgspec

from traywise.calendar import Span
from traywise.rulebook.conditions import conditions
from traywise.rulebook.rows import AfterProducts, CountRule, EventRule, Row, Season, When

ANSWERS = {
    "beside the series": "counts beside the series",
    "extra dose": "extra dose, does not count",
    "does not count": "does not count",
    "no further dose": "no further dose",
    "immune": "immune",
    "too old": "not given any more",
    "not recommended": "not recommended",
}
FIELDS = {
    "kind": "answer",
    "after": "valid doses so far",
    "dose": "dose number",
    "when": "conditions",
    "age_from": "holds from age",
    "age_before": "holds before age",
    "minimum_age": "minimum age",
    "minimum_interval": "minimum interval",
    "interval_from_first": "interval from the first dose",
    "after_products": "interval after other products",
    "counts_from_age": "a dose given counts from age",
    "counts_from_interval": "a dose given counts from interval",
    "counts_before": "a dose given counts before age",
    "recommended_age": "recommended age",
    "recommended_interval": "recommended interval",
    "overdue_age": "overdue from age",
    "too_old_from": "not given from age",
    "counts": "products that count",
    "may_serve": "products to give",
    "given_from": "given from",
    "given_before": "given before",
    "given_in_campaign": "given in a campaign",
    "given_with": "given on the day of",
    "event": "dated condition",
    "season": "season",
    "ends_series": "ends the series",
    "judge_only": "only judges doses given",
    "alone": "no later row speaks beside it",
    "urgent": "within hours",
    "shared_decision": "clinician decides",
    "grace": "grace days",
    "reason": "reason",
    "why": "remark",
    "source": "source",
}


class RowInWords(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the table: the cells, then what stands below it.

    from_memory  the value waits for someone to confirm it
    overlaid     an overlay changed or added it
    """

    key: str
    dose: str
    recommended: str
    minimum_age: str
    minimum_interval: str
    conditions: tuple[str, ...]
    ends_series: bool
    remark: str
    source: str
    from_memory: bool = False
    overlaid: bool = False


def dose_words(row: Row) -> str:
    """Which dose of the series the row speaks of: "1", "extra", "after the series".

    >>> dose_words(Row(key="X-2", after=1, source="from memory"))
    '2'
    """
    if row.kind not in ("dose", "extra dose"):
        return "-"
    if row.dose is not None:
        return f"{row.dose} (extra)" if row.kind == "extra dose" else str(row.dose)
    if row.after == "series":
        return "further"
    if row.after == "any":
        return "any"
    low, *rest = str(row.after).split(" ")
    number = str(int(low) + 1)
    if not rest:
        return number
    return f"{number} on" if rest[-1] == "more" else f"{number} to {int(rest[-1]) + 1}"


def condition_words(row: Row) -> tuple[str, ...]:
    """When the row speaks: age window, history, conditions of the child, season; short phrases."""
    found = list(when_words(row.when))
    window = _window("age", row.age_from, row.age_before)
    found = [window, *found] if window else found
    if row.event is not None:
        found += event_words(row.event)
    if row.given_in_campaign:
        found.append("given in a campaign")
    if row.given_with:
        found.append(f"given on the day of {' or '.join(row.given_with)}")
    if row.counts:
        found.append(f"only {', '.join(row.counts)}")
    if row.after_products is not None:
        found.append(f"{row.after_products.interval} after {row.after_products.products}")
    if row.season is not None:
        found.append(f"season {row.season.first} to {row.season.last}")
    if row.given_from is not None:
        found.append(f"given from {row.given_from}")
    if row.given_before is not None:
        found.append(f"given before {row.given_before}")
    if row.too_old_from is not None:
        found.append(f"not from {row.too_old_from}")
    return tuple(found)


def when_words(when: When) -> tuple[str, ...]:
    """The conditions on history and child, one phrase each; all must hold."""
    exact = ", to the day" if when.exact_ages else ""
    found = [
        _window(f"age at first dose{exact}", when.first_dose_from, when.first_dose_before),
        _window(
            f"age at the dose before{exact}", when.previous_dose_from, when.previous_dose_before
        ),
        _window(
            "interval before the last dose", when.last_interval_from, when.last_interval_before
        ),
        *(_count_words(rule, exact) for rule in when.doses),
        *(_text(key) for key in when.child),
    ]
    if when.child_any:
        found.append("any of: " + ", ".join(map(_text, when.child_any)))
    if when.child_none:
        found.append("none of: " + ", ".join(map(_text, when.child_none)))
    if when.sex is not None:
        found.append({"F": "female", "M": "male"}[when.sex])
    return tuple(phrase for phrase in found if phrase)


def event_words(event: EventRule) -> tuple[str, ...]:
    """What a row says of a dated condition: in which time, and what it counts from it."""
    name = " or ".join(map(_text, event.of))
    if event.time == "before":
        found = [f"dose before: {name}"]
    elif event.time == "during":
        lead = f"from {event.lead} before it " if event.lead != Span() else ""
        lead = f"from {event.opens} after its first day " if event.opens != Span() else lead
        trail = f"to {event.trail} after it" if event.trail != Span() else ""
        margins = f", {(lead + trail).strip()}" if lead or trail else ""
        found = [f"dose during: {name}{margins}"]
    elif event.time == "after":
        found = [f"dose after the {event.day} day of: {name}"]
    else:
        found = [f"{event.day} day not recorded: {name}"]
    if event.lasts is not None:
        found.append(f"it lasts {event.lasts}, so either day gives the other")
    if event.minimum_interval == Span():
        found.append(f"from its {event.day} day")
    elif event.minimum_interval is not None:
        found.append(f"{event.minimum_interval} after its {event.day} day")
    if event.overdue_interval is not None:
        found.append(f"overdue {event.overdue_interval} after its {event.day} day")
    return tuple(found)


def _text(key: str) -> str:
    known = conditions().get(key)
    return known.name if known else key.replace("-", " ")


def _window(what: str, low: Span | None, high: Span | None) -> str:
    if low is None and high is None:
        return ""
    parts = ([f"from {low}"] if low is not None else []) + (
        [f"before {high}"] if high is not None else []
    )
    return f"{what} {' and '.join(parts)}"


def _count_words(rule: CountRule, exact: str) -> str:
    what = rule.products or (f"other than {rule.not_products}" if rule.not_products else "")
    if rule.at_most == 0:
        number = "no dose"
    elif rule.at_least == rule.at_most:
        number = f"exactly {rule.at_least} dose{'' if rule.at_least == 1 else 's'}"
    elif rule.at_most < 99 and rule.at_least:
        number = f"{rule.at_least} to {rule.at_most} doses"
    elif rule.at_most < 99:
        number = f"at most {rule.at_most} dose{'' if rule.at_most == 1 else 's'}"
    else:
        number = f"at least {rule.at_least} dose{'' if rule.at_least == 1 else 's'}"
    parts = [number, f"of {what}" if what else ""]
    parts.append("given" if rule.given else "valid")
    window = _window(f"at an age{exact}", rule.age_from, rule.age_before)
    parts += [window] if window else []
    parts += ["before this season"] if rule.before_season else []
    parts += ["since its first day"] if rule.since_event else []
    if rule.within_before_event is not None:
        parts.append(f"less than {rule.within_before_event} before its first day, or since")
    return " ".join(part for part in parts if part)


def value_words(name: str, value: Any) -> str:
    """A field's value as text: "10 weeks", "yes", "nothing"."""
    if value is None or value in ((), ""):
        return "nothing"
    if value == Span() and not name.endswith(("_age", "_from", "_before")):
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, When):
        return "; ".join(when_words(value)) or "nothing"
    if isinstance(value, EventRule):
        return "; ".join(event_words(value))
    if isinstance(value, Season):
        return f"{value.first} to {value.last}"
    if isinstance(value, AfterProducts):
        return f"{value.interval} after {value.products}"
    if isinstance(value, tuple):
        return ", ".join(map(str, value))
    return ANSWERS.get(value, value) if name == "kind" else str(value)
