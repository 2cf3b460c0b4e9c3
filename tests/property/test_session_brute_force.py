"""The plan of a session equals the best of all plans on small sessions, and is never worse
than child by child; every plan passes the validator that shares no code with the search."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.invented_session import invent_session

from traywise.session.check import check_plan
from traywise.session.make_plan import plan_session
from traywise.session.offers import compromises_of, offers_of
from traywise.session.plan import SessionPlan
from traywise.session.request import Session
from traywise.shelf.usable import ends_at, why_not_usable
from traywise.tray.fit import Serving, fit


def figures(session: Session, taken) -> tuple[int, ...] | None:
    """Stage by stage what a plan costs, or None when stock or time do not allow it.

    ``taken``: (child, serving, lot index) of every dose; written from the rules of the
    stages, without the program.
    """
    drawn = [0] * len(session.shelf)
    for _, serving, lot in taken:
        drawn[lot] += serving.injections
    if any(doses > lot.doses for doses, lot in zip(drawn, session.shelf, strict=True)):
        return None
    for moment in session.times:
        work = [
            session.minutes_of(sum(s.injections for c, s, _ in taken if c == child))
            for child, at in enumerate(session.times)
            if at >= moment
        ]
        if sum(work) > session.minutes_from(moment):
            return None
    points = compromises = injections = expiry = rests = cents = 0
    unknown = 1 + max((round(lot.cost * 1000) for lot in session.shelf if lot.cost), default=0)
    for child, serving, index in taken:
        lot, one = session.shelf[index], session.children[child]
        points += sum(
            session.weights.of_dose(one.need.wanted[g], session.on, one.back)
            for g in serving.groups
        )
        compromises += compromises_of(one.need, serving)
        injections += serving.injections
        last = ends_at(lot, session.zone) if lot.opened else lot.expires
        last = last.date() if isinstance(last, datetime) else last
        expiry += (last - session.on).days * serving.injections
        cents += (unknown if lot.cost is None else round(lot.cost * 100)) * serving.injections
    for lot, doses in zip(session.shelf, drawn, strict=True):
        if lot.opened:
            rests += doses < lot.doses
        elif lot.vial_doses > 1:
            rests += doses % lot.vial_doses != 0
    return (-points, compromises, injections, expiry, rests, cents)


def of_plan(session: Session, plan: SessionPlan) -> tuple[int, ...] | None:
    index = {lot.key: number for number, lot in enumerate(session.shelf)}
    offers = {
        (o.child, o.serving.vaccine.key, o.serving.presentation): o.serving
        for o in offers_of(session).offers
    }
    taken = [
        (child, offers[child, pick.vaccine, pick.lot.presentation], index[pick.lot.key])
        for child, visit in enumerate(plan.visits)
        for pick in visit.picks
    ]
    return figures(session, taken)


def trays(session: Session, child: int):
    """Every set of servings from lots that a child might get, every lot of the shelf in view."""
    need, at = session.children[child].need, session.times[child]
    late = at + timedelta(minutes=session.weights.late_minutes)
    choices = []
    for index, lot in enumerate(session.shelf):
        serving = fit(need, lot.product, lot.presentation) if lot.product else None
        if (
            isinstance(serving, Serving)
            and lot.doses >= serving.injections
            and (not need.funding or lot.funding in ("", need.funding))
            and why_not_usable(lot, session.on, late if lot.opened else at, UTC) is None
        ):
            choices.append((child, serving, index))
    found = [()]
    for choice in choices:
        groups = {*choice[1].groups, *choice[1].extra}
        found += [
            (*tray, choice)
            for tray in found
            if not any(groups & {*other.groups, *other.extra} for _, other, _ in tray)
        ]
    return found


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 10**6), st.integers(2, 3), st.integers(4, 16), st.sampled_from([1, 1, 2]))
def test_the_plan_is_the_best_of_all_plans(seed, children, lots, vaccinators):
    session = invent_session(seed, children, lots, vaccinators=vaccinators, short=0.1)
    every = [trays(session, child) for child in range(children)]
    size = 1
    for own in every:
        size *= len(own)
    if size > 20_000:
        return
    candidates = (figures(session, [c for tray in plan for c in tray]) for plan in product(*every))
    best = min(found for found in candidates if found is not None)
    plan = plan_session(session)
    assert plan.proven
    assert of_plan(session, plan) == best
    assert check_plan(session, plan) == ()


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from([0.3, 0.6, 1.0]), st.integers(1, 4))
def test_never_worse_than_child_by_child_and_always_valid(seed, short, vaccinators):
    session = invent_session(seed, 18, 25, vaccinators=vaccinators, short=short)
    joint, alone = plan_session(session), plan_session(session, optimise=False)
    assert check_plan(session, joint) == ()
    assert check_plan(session, alone) == ()
    assert of_plan(session, joint) <= of_plan(session, alone)


@pytest.mark.slow
def test_two_hundred_children_are_planned_to_the_optimum_in_twenty_seconds():
    session = invent_session(1, 200, 120, vaccinators=14)
    plan = plan_session(session, seconds=20)
    assert plan.proven
    assert plan.seconds < 25
    assert check_plan(session, plan) == ()
