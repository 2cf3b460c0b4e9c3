"""The session as a whole-number program: columns, rows and the stages of the objective.

Columns
  give[offer]        1 when the child gets the serving
  visit[child]       1 when the child is seen at all (only where time is short)
  draw[kind, supply] servings of a kind drawn from a supply; children whose offers come
                     from the same supplies are one kind, so that lots are not dealt out
                     child by child inside the program
  vials[supply]      vials opened of a multi-dose lot in a stretch
  rest[supply]       1 when an opened vial is left with doses

Each stage is minimised in turn, and held at its best while the next one is.
"""

from __future__ import annotations

from datetime import UTC
from math import ceil, inf

import msgspec

from traywise.rulebook.same_day import same_day_pairs
from traywise.session.offers import Offer, Offers
from traywise.session.request import Session
from traywise.shelf.usable import last_day

STAGES = ("points", "compromises", "injections", "expiry", "open vials left", "cost")


class Row(msgspec.Struct, frozen=True):
    """``low <= sum of value times column <= high``."""

    low: float
    high: float
    columns: tuple[int, ...]
    values: tuple[float, ...]


class Model(msgspec.Struct):
    """The program; every column is a whole number from 0 to its ``top``.

    stages  for each stage the coefficients by column; all whole, smaller is better
    reach   for each stage the most that its figure can be, without its sign
    give    column of each offer
    draws   (offers of the kind, supply) of each draw column
    visits  child -> column; vials, rests: supply -> column
    """

    tops: list[float] = []
    rows: list[Row] = []
    stages: list[dict[int, int]] = msgspec.field(default_factory=lambda: [{} for _ in STAGES])
    give: list[int] = []
    reach: list[int] = msgspec.field(default_factory=lambda: [0] * len(STAGES))
    draws: dict[int, tuple[tuple[int, ...], int]] = {}
    visits: dict[int, int] = {}
    vials: dict[int, int] = {}
    rests: dict[int, int] = {}

    def column(self, top: float) -> int:
        """A new column."""
        self.tops.append(top)
        return len(self.tops) - 1

    def row(self, low: float, high: float, terms: dict[int, float]) -> None:
        """A new row."""
        if terms:
            self.rows.append(Row(low, high, tuple(terms), tuple(terms.values())))


def build_model(session: Session, offers: Offers) -> Model:
    """The program of a session."""
    model = Model()
    model.give = [model.column(1) for _ in offers.offers]
    for column, offer in zip(model.give, offers.offers, strict=True):
        _add(model, 0, column, -offer.points)
        _add(model, 1, column, offer.compromises)
        _add(model, 2, column, offer.serving.injections)
    _time(model, session, offers)
    _one_product_a_group(model, offers)
    drawn = _draws(model, session, offers)
    _stock(model, session, offers, drawn)
    _reach(model, offers)
    return model


def _reach(model: Model, offers: Offers) -> None:
    """Bounds from one product at most for each group of a child."""
    most: list[dict[tuple[int, str], int]] = [{}, {}, {}, {}, {}, {}]
    dearest: dict[int, list[int]] = {3: [0] * len(offers.offers), 5: [0] * len(offers.offers)}
    for column, (members, _) in model.draws.items():
        for stage, by_offer in dearest.items():
            for number in members:
                by_offer[number] = max(by_offer[number], model.stages[stage].get(column, 0))
    for number, offer in enumerate(offers.offers):
        groups = offer.serving.groups
        figures = (
            # Shared out evenly and rounded up, so that the groups together reach the points.
            ceil(offer.points / len(groups)),
            offer.compromises,
            offer.serving.injections,
            dearest[3][number],
            0,
            dearest[5][number],
        )
        for stage, figure in enumerate(figures):
            for group in groups:
                key = (offer.child, group)
                most[stage][key] = max(most[stage].get(key, 0), figure)
    model.reach = [sum(by_group.values()) for by_group in most]
    model.reach[4] = len(model.rests)


def _add(model: Model, stage: int, column: int, value: int) -> None:
    if value:
        model.stages[stage][column] = model.stages[stage].get(column, 0) + value


def _one_product_a_group(model: Model, offers: Offers) -> None:
    """No two products for one group of a child, nor both of a pair that excludes each other."""
    shares: dict[tuple[int, str], list[int]] = {}
    for column, offer in zip(model.give, offers.offers, strict=True):
        for group in (*offer.serving.groups, *offer.serving.extra):
            shares.setdefault((offer.child, group), []).append(column)
    for (child, _), columns in shares.items():
        _at_most_one(model, child, columns)
    for pair in same_day_pairs():
        for (child, group), columns in shares.items():
            if group == pair.first and (child, pair.second) in shares:
                _at_most_one(model, child, sorted({*columns, *shares[child, pair.second]}))


def _at_most_one(model: Model, child: int, columns: list[int]) -> None:
    """One of the columns at most, and none unless the child is seen."""
    visit = model.visits.get(child)
    terms = dict.fromkeys(columns, 1.0)
    if visit is None:
        if len(columns) > 1:
            model.row(0, 1, terms)
        return
    # Summed over the group rather than row by row: much nearer to whole numbers.
    model.row(-inf, 0, {**terms, visit: -1.0})


def _time(model: Model, session: Session, offers: Offers) -> None:
    """From any appointment on, the visits fit between it and the end of the session."""
    doses = _most_doses(offers)
    need = [session.minutes_of(doses.get(n, 0)) for n in range(len(session.children))]
    tight = [
        moment
        for moment in sorted({at.astimezone(UTC) for at in session.times})
        if sum(m for m, at in zip(need, session.times, strict=True) if at >= moment)
        > session.minutes_from(moment)
    ]
    if not tight:
        return
    model.visits = {child: model.column(1) for child in doses}
    for moment in tight:
        terms: dict[int, float] = {}
        for child, column in model.visits.items():
            if session.times[child] >= moment:
                terms[column] = session.weights.minutes_per_child
        for column, offer in zip(model.give, offers.offers, strict=True):
            if session.times[offer.child] >= moment:
                terms[column] = session.weights.minutes_per_dose * offer.serving.injections
        model.row(0, session.minutes_from(moment), terms)


def _most_doses(offers: Offers) -> dict[int, int]:
    """Upper bound of the doses a child could get: each of its groups apart."""
    most: dict[int, dict[str, int]] = {}
    for offer in offers.offers:
        groups = most.setdefault(offer.child, {})
        for group in offer.serving.groups:
            groups[group] = max(groups.get(group, 0), offer.serving.injections)
    return {child: sum(groups.values()) for child, groups in most.items()}


def _kinds(offers: Offers) -> dict[tuple[object, ...], list[int]]:
    kinds: dict[tuple[object, ...], list[int]] = {}
    for number, offer in enumerate(offers.offers):
        kinds.setdefault(_kind(offer), []).append(number)
    return kinds


def _kind(offer: Offer) -> tuple[object, ...]:
    return (offer.supplies, offer.serving.injections)


def _draws(model: Model, session: Session, offers: Offers) -> dict[int, dict[int, float]]:
    """Draw columns; what is given is drawn. Returns doses drawn by supply: column -> doses."""
    drawn: dict[int, dict[int, float]] = {}
    # A lot without a cost comes after every lot with one.
    unknown = 1 + max((round(lot.cost * 1000) for lot in session.shelf if lot.cost), default=0)
    for members in _kinds(offers).values():
        injections = offers.offers[members[0]].serving.injections
        balance = {model.give[number]: -1.0 for number in members}
        for supply in offers.offers[members[0]].supplies:
            lot = session.shelf[offers.supplies[supply].lot]
            column = model.column(min(len(members), lot.doses // injections))
            model.draws[column] = (tuple(members), supply)
            balance[column] = 1.0
            drawn.setdefault(supply, {})[column] = injections
            last = last_day(lot, session.zone) or session.on
            _add(model, 3, column, (last - session.on).days * injections)
            cents = unknown if lot.cost is None else round(lot.cost * 100)
            _add(model, 5, column, cents * injections)
        model.row(0, 0, balance)
    return drawn


def _stock(
    model: Model, session: Session, offers: Offers, drawn: dict[int, dict[int, float]]
) -> None:
    """No lot gives more than it holds; vials that are opened are counted."""
    by_lot: dict[int, list[int]] = {}
    for supply in drawn:
        by_lot.setdefault(offers.supplies[supply].lot, []).append(supply)
    for lot, supplies in by_lot.items():
        all_draws = {c: v for supply in supplies for c, v in drawn[supply].items()}
        model.row(0, session.shelf[lot].doses, all_draws)
        vials: dict[int, float] = {}
        for supply in supplies:
            vial = offers.supplies[supply].vial
            if vial == 0:
                _rest_of_opened(model, supply, session.shelf[lot].doses, drawn[supply])
            elif vial > 1:
                _open_vials(model, supply, session.shelf[lot].doses, vial, drawn[supply])
                vials[model.vials[supply]] = 1.0
        if vials:
            size = max(offers.supplies[supply].vial for supply in supplies)
            model.row(0, ceil(session.shelf[lot].doses / size), vials)


def _rest_of_opened(model: Model, supply: int, doses: int, draws: dict[int, float]) -> None:
    """An opened vial counts as left over unless all of it is drawn."""
    rest = model.rests[supply] = model.column(1)
    _add(model, 4, rest, 1)
    model.row(doses, inf, {**draws, rest: float(doses)})


def _open_vials(model: Model, supply: int, doses: int, vial: int, draws: dict[int, float]) -> None:
    """Vials opened for what is drawn; the last one counts as left over unless it is emptied."""
    opened = model.vials[supply] = model.column(ceil(doses / vial))
    rest = model.rests[supply] = model.column(1)
    _add(model, 4, rest, 1)
    minus = {column: -value for column, value in draws.items()}
    # 0 <= vials * size - drawn <= (size - 1) * rest: as many vials as needed, no more.
    model.row(0, inf, {**minus, opened: float(vial)})
    model.row(-inf, 0, {**minus, opened: float(vial), rest: float(1 - vial)})
