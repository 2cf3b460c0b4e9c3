"""What one child needs today, as the choice of products sees it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import msgspec

from traywise.record.child import Child
from traywise.rulebook.vaccines import Vaccine, vaccines_by_cvx
from traywise.schedule.answer import Answer, GroupForecast

WANTED = ("due", "overdue")
ASKABLE = "clinician decides"


class Block(msgspec.Struct, frozen=True, kw_only=True):
    """A reason not to give something today, from screening.

    What it holds back is the key it stands under: a group ("MMR"), a product or one
    presentation of it (see ``product_key``), "component yeast", "latex", or "live".
    """

    why: str
    until: date | None = None
    source: str = ""


class Need(msgspec.Struct, frozen=True, kw_only=True):
    """One child on one day: groups wanted, what is blocked, which lines were begun.

    wanted   groups to be given today, with their forecast
    others   the other groups of the answer
    blocked  reasons by what they hold back (see Block)
    given    dates of the doses given, valid or not, by group
    lines    product lines used so far, by group; a product without line is ""
    funding  "public", "private", or "" for any stock
    """

    child: Child
    on: date
    edition: str
    wanted: dict[str, GroupForecast]
    others: dict[str, GroupForecast]
    blocked: Mapping[str, Block]
    given: dict[str, tuple[date, ...]]
    lines: dict[str, frozenset[str]]
    funding: str = ""


def need_of(
    child: Child,
    on: date,
    answer: Answer,
    blocked: Mapping[str, Block] | None = None,
    funding: str | None = None,
    asked: frozenset[str] = frozenset(),
) -> Need:
    """The need of a child on a day.

    funding  the child's source; None: the answer ``funding`` of the record, if any
    asked    groups left to the clinician that the clinician decided to give
    """
    wanted = {
        group: forecast
        for group, forecast in answer.groups.items()
        if forecast.status in WANTED or (forecast.status == ASKABLE and group in asked)
    }
    given, lines = _history(child, on, answer)
    source = child.answers.get("funding") if funding is None else funding
    return Need(
        child=child,
        on=on,
        edition=answer.edition,
        wanted=wanted,
        others={group: f for group, f in answer.groups.items() if group not in wanted},
        blocked=blocked or {},
        given=given,
        lines=lines,
        funding=source if source in ("public", "private") else "",
    )


def _history(
    child: Child, on: date, answer: Answer
) -> tuple[dict[str, tuple[date, ...]], dict[str, frozenset[str]]]:
    """Dates and product lines by group; the schedule's verdicts name groups of historic codes."""
    judged = {(dose.on, dose.cvx): tuple(dose.groups) for dose in answer.doses}
    given: dict[str, list[date]] = {}
    lines: dict[str, set[str]] = {}
    for dose in child.doses:
        if dose.on > on:
            continue
        product = vaccines_by_cvx().get(dose.cvx)
        groups = set(judged.get((dose.on, dose.cvx), ())) | set(product.groups if product else ())
        for group in groups:
            given.setdefault(group, []).append(dose.on)
            if product is not None:
                lines.setdefault(group, set()).add(line_in(product, group))
    return (
        {group: tuple(sorted(days)) for group, days in given.items()},
        {group: frozenset(found) for group, found in lines.items()},
    )


def product_key(vaccine: str, presentation: str = "") -> str:
    """Under which key a block of a product, or of one presentation of it, stands.

    Groups and products share names, so a product says that it is one.

    >>> product_key("DTaP"), product_key("DTaP", "prefilled")
    ('product DTaP', 'product DTaP as prefilled')
    """
    return f"product {vaccine} as {presentation}" if presentation else f"product {vaccine}"


def line_in(vaccine: Vaccine, group: str) -> str:
    """The product line of a vaccine within a group; "" where it has none."""
    return vaccine.line if vaccine.line_group == group else ""
