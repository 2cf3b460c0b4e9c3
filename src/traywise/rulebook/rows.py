"""Rows of an edition: typed, frozen, one per line of the published table.

A row says after how many valid doses it speaks, under which conditions, in
which age window, and what it answers: a dose with its minimum age and interval,
or "no further dose", "too old" and the like. The same rows judge doses given
and forecast the next one.
"""

from __future__ import annotations

from datetime import date
from typing import Literal

import msgspec

from traywise.calendar import Span

Kind = Literal[
    "dose",  # a dose that counts
    "beside the series",  # only judges: permitted or of use, but no dose of the series
    "extra dose",  # offered, but it does not count (travel, birth dose under 2,000 g)
    "does not count",  # only judges: such a dose is not valid
    "no further dose",
    "immune",
    "too old",
    "not recommended",
]


class CountRule(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How many earlier doses satisfy a description; doses of one day count once.

    products, not_products  names of product lists of the edition
    age_from, age_before    age at those doses; ages that only select take the grace days
    since_event             only doses from the first day of the row's event on
    within_before_event     only doses less than this before that day, or since it
    before_season           only doses before the season's first day (yearly groups)
    given                   count every dose given to the child, valid or not, of any group;
                            otherwise valid doses of the group and those beside the series
    """

    products: str | None = None
    not_products: str | None = None
    age_from: Span | None = None
    age_before: Span | None = None
    at_least: int = 0
    at_most: int = 99
    before_season: bool = False
    since_event: bool = False
    within_before_event: Span | None = None
    given: bool = False


class When(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Conditions on history and child; all of them must hold.

    exact_ages  ages at earlier doses, counted ones too, are taken to the day, without grace days
    """

    exact_ages: bool = False
    first_dose_from: Span | None = None
    first_dose_before: Span | None = None
    previous_dose_from: Span | None = None
    previous_dose_before: Span | None = None
    last_interval_from: Span | None = None
    last_interval_before: Span | None = None
    doses: tuple[CountRule, ...] = ()
    child: tuple[str, ...] = ()  # all of these condition keys
    child_any: tuple[str, ...] = ()
    child_none: tuple[str, ...] = ()
    sex: Literal["F", "M"] | None = None


class Season(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """First and last day of a season, ``MM-DD``."""

    first: str
    last: str


class AfterProducts(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Minimum interval after the last dose of other products (PPSV23 after PCV)."""

    products: str
    interval: Span


class EventRule(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A dated condition of the child: the row speaks only for a child who has one in time.

    of      condition keys; of several the one that began last is meant
    time    "before": the dose lies before its first day
            "during": from ``lead`` before its first day, or only from ``opens`` after it, to
            the day before ``trail`` has passed since its last; without ``trail`` its last day
            "after": the dose lies after its ``day`` ("first": on that day or later)
            "unknown": it is recorded without its ``day`` (the last only where the first is known);
            the row asks for it, and judges nothing
    day     the day that intervals are counted from, and that "after" and "unknown" mean
    lead    weeks and days, no months; so are ``opens`` and ``lasts``
    lasts   it always lasts this long (a pregnancy): either of its days gives the other
    minimum_interval, overdue_interval  counted from ``day``; grace as for other intervals
    """

    of: tuple[str, ...]
    time: Literal["before", "during", "after", "unknown"]
    day: Literal["first", "last"] = "first"
    lead: Span = Span()
    opens: Span = Span()
    trail: Span = Span()
    lasts: Span | None = None
    minimum_interval: Span | None = None
    overdue_interval: Span | None = None


class Row(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One rule of an edition.

    kind             "beside the series": judged like a dose (on the day of another such one no
                     interval is asked for) and told as extra; it is no dose of the series, but
                     conditions on earlier doses see it and later intervals count from it
    after            valid doses so far: ``2``, ``"2 or more"``, ``"0 to 2"``, ``"any"``,
                     ``"series"`` (it has ended)
    age_from/_before window of the age at this dose; selects the row (grace days shift it)
    minimum_age, minimum_interval, interval_from_first   what a dose needs; grace per ``grace``
    counts_from_age, counts_from_interval, counts_before  what a dose given by mistake needs
    too_old_from     first day on which the dose is no longer given, no grace
    overdue_age      first day after the recommended age range
    alone            when it speaks, no later row of the group does; silent before ``age_from``
    event            a dated condition that the row counts from (a transplant, a pregnancy)
    given_in_campaign  "does not count" and "extra dose": only doses recorded as given in a campaign
    given_with       the same kinds: only doses given on the day of a dose of these product lists
    judge_only       accepts a dose given, is never offered
    urgent           within hours: a session serves it before all that can wait
    """

    key: str
    kind: Kind = "dose"
    after: int | str = 0
    dose: int | None = None
    when: When = When()
    age_from: Span | None = None
    age_before: Span | None = None
    minimum_age: Span | None = None
    minimum_interval: Span | None = None
    interval_from_first: Span | None = None
    after_products: AfterProducts | None = None
    counts_from_age: Span | None = None
    counts_from_interval: Span | None = None
    counts_before: Span | None = None
    recommended_age: Span | None = None
    recommended_interval: Span | None = None
    overdue_age: Span | None = None
    too_old_from: Span | None = None
    counts: tuple[str, ...] = ()  # product lists that count here; empty: all of the group
    may_serve: tuple[str, ...] = ()  # vaccine keys to give; empty: all of the group
    given_from: date | None = None
    given_before: date | None = None
    given_in_campaign: bool = False
    given_with: tuple[str, ...] = ()
    event: EventRule | None = None
    season: Season | None = None
    ends_series: bool = False
    judge_only: bool = False
    alone: bool = False
    urgent: bool = False
    shared_decision: bool = False
    grace: Literal["", "none", "age only", "interval only"] = ""
    reason: str = ""  # "does not count": the short reason
    why: str = ""
    source: str


class GroupHead(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a group is: its name and which CVX codes serve it.

    antigens      a code serves when it holds all of these (or any, with ``any_antigen``)
    only_cvx      exactly these codes instead
    yearly        ``MM-DD``: the first day of each season; counting starts anew
    late_from     ``MM-DD``: before this day of a season no dose is overdue
    live          families of live vaccine the group is given as; empty: spacing does not move it
    antibody_wait antibody products hold its doses back
    """

    key: str
    name: str
    antigens: tuple[str, ...] = ()
    any_antigen: bool = False
    only_cvx: tuple[str, ...] = ()
    not_cvx: tuple[str, ...] = ()
    yearly: str | None = None
    late_from: str | None = None
    live: tuple[str, ...] = ()
    antibody_wait: bool = False
    by_indication: bool = False


class LiveFamily(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Live vaccines that space against other families."""

    key: str
    antigens: tuple[str, ...] = ()
    cvx: tuple[str, ...] = ()


class Derived(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A condition that follows from a measured value of the record."""

    key: str
    field: Literal["birth_weight_g", "gestation_weeks"]
    below: int
    source: str


class General(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Rules that hold for every group of the edition.

    live_conflict  a live dose too near moves the next date and spoils a dose given, or it only
                   holds the next dose back (WHO tables: doses given are counted as recorded)
    late_after     overdue this long after the due day; absent: the authority names no such day
    """

    grace: Span
    live_interval: Span
    live_spacing: Literal["injected and nasal", "every live vaccine"]
    live_conflict: Literal["moves the dates", "holds the dose back"]
    antibody_after_dose: Span
    late_after: Span | None = None
    source: str


class EditionHead(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Who published the edition, when, for whom."""

    key: str
    title: str
    publisher: str
    published: str
    covers: str
    groups: tuple[str, ...]
    note: str = ""


class OverlayHead(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An overlay: who decided it, on which editions it lies.

    needs    overlays that it builds on; they are laid on first
    warning  what every output must say when this overlay is in use
    note     what a reader of the schedule should know: what is sourced, what is not
    """

    key: str
    title: str
    publisher: str
    published: str
    on: tuple[str, ...]
    needs: tuple[str, ...] = ()
    note: str = ""
    warning: str = ""
