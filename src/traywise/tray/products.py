"""The exact choice of products for one child from the lots on the shelf.

In order of weight: most due groups covered; the vaccine that goes first where two
exclude each other; product lines kept; no second-choice product; fewest injections;
opened vials first; soonest expiry; least cost; then a fixed order, so that the same
shelf always gives the same tray.

Two products never share a group, so the choice is a cheapest set of disjoint group
sets. All criteria add up over the products, so for each group set only the best lot
counts, and a search over the groups still uncovered, each state once, is exact.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, tzinfo
from functools import cache
from typing import NamedTuple

import msgspec

from traywise.record.child import Child
from traywise.rulebook.same_day import same_day_pairs
from traywise.schedule.answer import Answer
from traywise.shelf.lot import Lot
from traywise.shelf.usable import last_day, why_not_usable
from traywise.tray.fit import Refusal, Serving, fit
from traywise.tray.need import Block, Need, need_of
from traywise.tray.plan import NotToday
from traywise.tray.unserved import explain_unserved


class Pick(msgspec.Struct, frozen=True, kw_only=True):
    """One product of the choice and the lot it comes from.

    groups  due groups it covers; extra: groups it also gives, allowed and harmless
    why     short reasons for the choice
    """

    lot: Lot
    vaccine: str  # key in vaccines.toml
    groups: tuple[str, ...]
    extra: tuple[str, ...] = ()
    dose_numbers: dict[str, int] = {}
    volume_ml: float
    injections: int = 1
    why: tuple[str, ...] = ()


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """The products for one child and the due groups that none of them serves."""

    picks: tuple[Pick, ...] = ()
    unserved: tuple[NotToday, ...] = ()


class Cost(NamedTuple):
    """What a set of products costs, criterion by criterion; smaller is better."""

    uncovered: int = 0  # minus the number of due groups covered
    against_order: int = 0
    lines_left: int = 0
    second_choices: int = 0
    injections: int = 0
    not_from_open_vials: int = 0
    expiry: int = 0
    unknown_costs: int = 0
    cents: int = 0
    products: int = 0
    ranks: tuple[int, ...] = ()

    def plus(self, other: Cost) -> Cost:
        """The cost of both together."""
        sums = (mine + theirs for mine, theirs in zip(self[:-1], other[:-1], strict=True))
        return Cost._make((*sums, tuple(sorted(self.ranks + other.ranks))))


class Option(msgspec.Struct, frozen=True, kw_only=True):
    """A serving from a lot, with its cost."""

    serving: Serving
    lot: Lot
    cost: Cost


def choose(
    child: Child,
    on: date,
    answer: Answer,
    blocked: Mapping[str, Block] | None = None,
    shelf: Sequence[Lot] | None = (),
    now: datetime | None = None,
    funding: str | None = None,
    *,
    asked: frozenset[str] = frozenset(),
    zone: tzinfo | None = None,
) -> Choice:
    """The best products for the child on that day, and why a due group stays unserved.

    blocked  screening's reasons (see blocks.blocks_of)
    shelf    None: it could not be read, so nothing can be chosen from it
    now      instant of use, for opened vials; None: they must last the day
    funding  public, private; None: as the record's answer says; "": any stock
    asked    groups left to the clinician that the clinician decided to give
    """
    need = need_of(child, on, answer, blocked, funding, asked)
    return choose_for(need, shelf, now, zone)


def choose_for(
    need: Need,
    shelf: Sequence[Lot] | None,
    now: datetime | None = None,
    zone: tzinfo | None = None,
) -> Choice:
    """As ``choose``, for a need already made."""
    options = options_of(need, shelf or (), now, zone)
    best = best_set(need, options)
    picks = tuple(pick_from(option.serving, option.lot) for option in best)
    covered = {group for pick in picks for group in pick.groups}
    unserved = explain_unserved(
        need,
        tuple(group for group in need.wanted if group not in covered),
        shelf,
        now,
        zone,
        given=frozenset(group for pick in picks for group in (*pick.groups, *pick.extra)),
    )
    return Choice(picks=picks, unserved=unserved)


def options_of(
    need: Need, shelf: Sequence[Lot], now: datetime | None = None, zone: tzinfo | None = None
) -> list[Option]:
    """Every serving from every lot that may be used for this child now."""
    fits: dict[tuple[str, str], Serving | Refusal | None] = {}
    options = []
    for rank, lot in enumerate(sorted(shelf, key=lambda lot: (lot.cvx, lot.key, lot.vaccine))):
        vaccine = lot.product
        if vaccine is None or not funding_allows(need.funding, lot.funding):
            continue
        key = (vaccine.key, lot.presentation)
        if key not in fits:
            fits[key] = fit(need, vaccine, lot.presentation)
        serving = fits[key]
        if not isinstance(serving, Serving) or lot.doses < serving.injections:
            continue
        if why_not_usable(lot, need.on, now, zone) is None:
            options.append(Option(serving=serving, lot=lot, cost=cost_of(need, serving, lot, rank)))
    return options


def funding_allows(child: str, lot: str) -> bool:
    """Whether a lot of this source may serve a child of that source; empty matches any.

    >>> funding_allows("public", "private"), funding_allows("public", "")
    (False, True)
    """
    return not child or not lot or child == lot


def best_set(need: Need, options: Sequence[Option]) -> tuple[Option, ...]:
    """The cheapest set of options whose groups do not overlap nor exclude each other."""
    excluded = _exclusions()
    best: dict[frozenset[str], Option] = {}
    for option in options:
        groups = frozenset((*option.serving.groups, *option.serving.extra))
        if groups not in best or option.cost < best[groups].cost:
            best[groups] = option
    items = list(best.items())

    @cache
    def search(open_groups: frozenset[str], closed: frozenset[str]) -> tuple[Cost, tuple[int, ...]]:
        """Best cost and items for the groups still open; ``closed`` may not be given any more."""
        if not open_groups:
            return Cost(), ()
        group = min(open_groups)
        rest = open_groups - {group}
        found = search(rest, closed | {group})
        for number, (groups, option) in enumerate(items):
            if group not in groups or groups & closed:
                continue
            gone = (
                closed | groups | frozenset(other for g in groups for other in excluded.get(g, ()))
            )
            cost, taken = search(rest - gone, gone)
            candidate = (option.cost.plus(cost), (number, *taken))
            found = min(found, candidate)
        return found

    # Only due groups that some option serves are worth a state; the rest stay open anyway.
    servable = frozenset(g for groups, option in items for g in option.serving.groups)
    _, taken = search(servable, frozenset())
    return tuple(items[number][1] for number in sorted(taken))


def _exclusions() -> dict[str, tuple[str, ...]]:
    excluded: dict[str, tuple[str, ...]] = {}
    for pair in same_day_pairs():
        excluded[pair.first] = (*excluded.get(pair.first, ()), pair.second)
        excluded[pair.second] = (*excluded.get(pair.second, ()), pair.first)
    return excluded


def cost_of(need: Need, serving: Serving, lot: Lot, rank: int) -> Cost:
    """What a serving from a lot costs; ``rank`` puts lots in a fixed order."""
    against = sum(
        pair.second in serving.groups and pair.first in need.wanted for pair in same_day_pairs()
    )
    return Cost(
        uncovered=-len(serving.groups),
        against_order=against,
        lines_left=int(bool(serving.leaves_line)),
        second_choices=int(serving.vaccine.second_choice),
        injections=serving.injections,
        not_from_open_vials=int(not lot.opened),
        expiry=last.toordinal() if (last := last_day(lot)) else 0,
        unknown_costs=int(lot.cost is None),
        cents=round((lot.cost or 0) * 100) * serving.injections,
        products=1,
        ranks=(rank,),
    )


def pick_from(serving: Serving, lot: Lot) -> Pick:
    """The pick of a serving from a lot, with its reasons."""
    return Pick(
        lot=lot,
        vaccine=serving.vaccine.key,
        groups=serving.groups,
        extra=serving.extra,
        dose_numbers=serving.dose_numbers,
        volume_ml=serving.volume_ml,
        injections=serving.injections,
        why=_reasons(serving, lot),
    )


def _reasons(serving: Serving, lot: Lot) -> tuple[str, ...]:
    reasons = []
    if len(serving.groups) > 1:
        reasons.append(f"one product for {', '.join(serving.groups)}")
    if serving.extra:
        reasons.append(f"also gives {', '.join(serving.extra)}, which is not due but allowed")
    if serving.leaves_line:
        reasons.append(f"the series was begun with {serving.leaves_line}, which is not at hand")
    if lot.opened:
        reasons.append("from the opened vial")
    elif lot.expires is not None:
        reasons.append(f"lot {lot.lot} expires {lot.expires.isoformat()}")
    return tuple(reasons)
