"""From the demo's records to the session's plan and back to each child's tray."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import msgspec
import pytest

from traywise.demo.load import DEMO_DAY, demo_children, demo_shelf, demo_supplies
from traywise.errors import InputError
from traywise.record.child import Child, Condition
from traywise.session.check import check_plan
from traywise.session.make_plan import plan_session
from traywise.session.roster import assess_child, outside_hours, session_of, visits_of
from traywise.shelf.lot import Lot
from traywise.tray.products import choose_for

START = datetime.combine(DEMO_DAY, datetime.min.time()).replace(hour=8)
END = START + timedelta(hours=5)
ROSTER = [assess_child(child, DEMO_DAY) for child in demo_children()]
SESSION = session_of(ROSTER, demo_shelf(), START, END, vaccinators=2)
PLAN = plan_session(SESSION)


def test_the_demo_plan_is_proven_and_keeps_every_rule():
    assert PLAN.proven
    assert check_plan(SESSION, PLAN) == ()


def test_in_the_demo_joint_planning_serves_more_than_child_by_child():
    alone = plan_session(SESSION, optimise=False)
    assert check_plan(SESSION, alone) == ()
    assert PLAN.doses > alone.doses
    missed = {(v.child, m.group) for v in alone.visits for m in v.missed}
    served = {(v.child, g) for v in PLAN.visits for p in v.picks for g in p.groups}
    assert missed & served


def test_with_plenty_on_the_shelf_the_session_gives_each_child_its_single_tray():
    plenty = tuple(msgspec.structs.replace(lot, doses=lot.doses + 100) for lot in demo_shelf())
    session = session_of(ROSTER, plenty, START, END, vaccinators=9)
    for visit, child in zip(plan_session(session).visits, session.children, strict=True):
        single = choose_for(child.need, plenty, session.start)
        assert {g for p in visit.picks for g in p.groups} == {
            g for p in single.picks for g in p.groups
        }
        assert sum(p.injections for p in visit.picks) == sum(p.injections for p in single.picks)


def test_each_planned_dose_has_its_place_on_the_childs_tray():
    trays = visits_of(ROSTER, PLAN, demo_supplies())
    assert set(trays) == {visit.child for visit in PLAN.visits}
    for visit in PLAN.visits:
        tray = trays[visit.child].tray
        placed = {group for place in tray.tray for group in place.groups}
        waiting = {entry.group for entry in tray.not_today}
        for pick in visit.picks:
            assert set(pick.groups) <= placed | waiting
        assert {place.lot for place in tray.tray} <= {pick.lot.lot for pick in visit.picks}


def test_an_appointment_outside_the_hours_is_said():
    children = demo_children()
    assert outside_hours(children, START, END) == ()
    late = START + timedelta(hours=3)
    faults = outside_hours(children, late, END)
    assert faults
    assert {fault.code for fault in faults} == {"session.E005"}
    with pytest.raises(InputError):
        session_of(ROSTER, [], late, END)


def test_how_hard_it_is_to_come_back_is_read_from_the_answers():
    child = demo_children()[0]
    for said, back in (("hard", "hard"), ("unlikely", "unlikely"), ("no", "")):
        other = msgspec.structs.replace(child, answers={**child.answers, "comes-back": said})
        session = session_of([assess_child(other, DEMO_DAY)], [], START, END)
        assert session.children[0].back == back


def test_the_dose_an_exposed_newborn_needs_within_hours_goes_before_what_can_wait() -> None:
    """One dose of HepB, a newborn of an HBsAg-positive mother and a child long overdue.

    CDC notes 2025, HepB: within 12 hours; that it goes first is common practice.
    """
    newborn = Child(
        id="newborn",
        born=DEMO_DAY,
        weight_kg=3.2,
        conditions=(Condition(key="mother-hbsag-positive"),),
    )
    teen = Child(id="teen", born=date(2014, 1, 5), weight_kg=41)
    shelf = [Lot(lot="H1", cvx="08", presentation="prefilled", doses=1, expires=date(2027, 6, 30))]
    roster = [assess_child(child, DEMO_DAY) for child in (teen, newborn)]
    plan = plan_session(session_of(roster, shelf, START, END, vaccinators=2))
    assert {visit.child: len(visit.picks) for visit in plan.visits} == {"teen": 0, "newborn": 1}
