"""The plan that serves each child as it comes, with its best tray from what is left.

It is what a clinic does without a plan of the session: the search falls back on it, and
the session's plan is never worse.
"""

from __future__ import annotations

from math import ceil

from traywise.session.model import Model
from traywise.session.offers import Offers
from traywise.session.request import Session
from traywise.tray.products import Option, best_set, cost_of


class _State:
    """What is left while the children come one after the other."""

    def __init__(self, session: Session, offers: Offers, model: Model):
        self.session, self.offers, self.model = session, offers, model
        self.values = [0] * len(model.tops)
        self.doses = [lot.doses for lot in session.shelf]
        self.drawn = [0] * len(offers.supplies)
        self.of_lot: dict[int, list[int]] = {}
        for number, supply in enumerate(offers.supplies):
            self.of_lot.setdefault(supply.lot, []).append(number)
        self.minutes = {moment: session.minutes_from(moment) for moment in session.times}
        self.column_of = {
            (number, supply): column
            for column, (members, supply) in model.draws.items()
            for number in members
        }
        ranks = sorted(
            range(len(session.shelf)), key=lambda i: (session.shelf[i].cvx, session.shelf[i].key)
        )
        self.rank = {lot: rank for rank, lot in enumerate(ranks)}

    def free(self, supply: int, doses: int) -> bool:
        """Whether so many doses can still come from this supply."""
        source = self.offers.supplies[supply]
        if self.doses[source.lot] < doses:
            return False
        if source.vial <= 1:
            return True
        lot = self.session.shelf[source.lot]
        vials = sum(
            ceil((self.drawn[i] + (doses if i == supply else 0)) / source.vial)
            for i in self.of_lot[source.lot]
        )
        return vials <= ceil(lot.doses / source.vial)

    def take(self, offer: int, supply: int) -> None:
        doses = self.offers.offers[offer].serving.injections
        self.doses[self.offers.supplies[supply].lot] -= doses
        self.drawn[supply] += doses
        self.values[self.model.give[offer]] = 1
        self.values[self.column_of[offer, supply]] += 1

    def time_left(self, child: int) -> int:
        """Minutes that the child's visit may take."""
        at = self.session.times[child]
        return min(left for moment, left in self.minutes.items() if moment <= at)

    def spend(self, child: int, minutes: int) -> None:
        at = self.session.times[child]
        for moment in self.minutes:
            if moment <= at:
                self.minutes[moment] -= minutes


def plan_one_by_one(session: Session, offers: Offers, model: Model) -> tuple[int, ...]:
    """Column values of the plan child by child."""
    state = _State(session, offers, model)
    of_child: dict[int, list[int]] = {}
    for number, offer in enumerate(offers.offers):
        of_child.setdefault(offer.child, []).append(number)
    for child in range(len(session.children)):
        _serve(state, child, of_child.get(child, []))
    for supply, column in model.vials.items():
        state.values[column] = ceil(state.drawn[supply] / offers.supplies[supply].vial)
    for supply, column in model.rests.items():
        source = offers.supplies[supply]
        whole = (
            state.values[model.vials[supply]] * source.vial
            if source.vial
            else session.shelf[source.lot].doses
        )
        state.values[column] = int(state.drawn[supply] < whole)
    return tuple(state.values)


def _serve(state: _State, child: int, numbers: list[int]) -> None:
    session, offers = state.session, state.offers
    need = session.children[child].need
    options: dict[int, tuple[int, int]] = {}
    made: list[Option] = []
    for number in numbers:
        serving = offers.offers[number].serving
        for supply in offers.offers[number].supplies:
            if state.free(supply, serving.injections):
                lot = session.shelf[offers.supplies[supply].lot]
                rank = state.rank[offers.supplies[supply].lot]
                option = Option(serving=serving, lot=lot, cost=cost_of(need, serving, lot, rank))
                options[id(option)] = (number, supply)
                made.append(option)
    chosen = list(best_set(need, made))
    # With too little time left the products that cover least are left out first.
    chosen.sort(key=lambda option: (-len(option.serving.groups), option.cost))
    while chosen and session.minutes_of(_doses(chosen)) > state.time_left(child):
        chosen.pop()
    for option in chosen:
        state.take(*options[id(option)])
    if chosen:
        state.spend(child, session.minutes_of(_doses(chosen)))
        if child in state.model.visits:
            state.values[state.model.visits[child]] = 1


def _doses(options: list[Option]) -> int:
    return sum(option.serving.injections for option in options)
