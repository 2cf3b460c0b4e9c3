"""What a change of the session does, in figures and in words."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import msgspec
import pytest
from tests.invented_session import ON, START, invent_child, invent_session

from traywise.errors import InputError
from traywise.record.child import Child
from traywise.schedule.answer import Answer, GroupForecast
from traywise.session.check import check_plan
from traywise.session.make_plan import plan_session
from traywise.session.request import SessionChild, prepare
from traywise.session.whatif import (
    compare,
    lose_unit,
    move_to,
    quarantine,
    vaccinators,
    walk_ins,
    what_if,
)
from traywise.shelf.lot import Lot
from traywise.tray.need import need_of

SESSION = invent_session(11, 20, 40, vaccinators=3)
PLAN = plan_session(SESSION)


def test_the_same_session_makes_no_difference():
    assert compare(PLAN, PLAN).lines == ("Nothing changes.",)


def test_ten_walk_ins_are_added_and_the_plan_stays_valid():
    rng = random.Random(3)
    more = [invent_child(rng, 900 + number) for number in range(10)]
    walking = [msgspec.structs.replace(child, at=None) for child in more]
    changed = walk_ins(SESSION, walking)
    found = what_if(PLAN, changed)
    assert len(found.plan.visits) == 30
    assert check_plan(changed, found.plan) == ()
    assert found.doses > 0
    assert any("more due dose" in line for line in found.lines)
    assert set(found.served) <= {child.id for child in more} | {v.child for v in PLAN.visits}


def test_no_vaccinator_left_turns_everybody_away():
    found = what_if(PLAN, vaccinators(SESSION, -9))
    assert found.doses == -PLAN.doses
    assert set(found.turned_away) == {visit.child for visit in PLAN.visits if visit.picks}
    assert any("go home without" in line for line in found.lines)


def test_a_lot_in_quarantine_is_not_used_anywhere():
    lot = PLAN.visits[0].picks[0].lot.lot
    found = what_if(PLAN, quarantine(SESSION, lot, "recall notice"))
    assert lot not in {p.lot.lot for v in found.plan.visits for p in v.picks}
    assert found.plan.doses <= PLAN.doses
    with pytest.raises(InputError):
        quarantine(SESSION, "no such lot")


def test_a_lost_fridge_takes_all_its_lots():
    found = what_if(PLAN, lose_unit(SESSION, "fridge 1"))
    assert {p.lot.unit for v in found.plan.visits for p in v.picks} <= {"fridge 2"}
    assert found.doses < 0
    with pytest.raises(InputError):
        lose_unit(SESSION, "cellar")


def test_another_day_is_assessed_anew():
    shelf = [
        Lot(lot="A", cvx="03", presentation="vial+diluent", doses=1, expires=ON + timedelta(days=5))
    ]
    child = Child(id="c", born=ON - timedelta(days=362))  # three days short of the first birthday

    def assess(child: Child, day):
        due = GroupForecast(status="due", next_dose=1, earliest=day)
        return need_of(
            child, day, Answer(id="c", assess_on=day, edition="us-2025", groups={"MMR": due})
        )

    today = prepare(
        [SessionChild(need=assess(child, ON), at=START)],
        shelf,
        START,
        START + timedelta(hours=1),
        zone=UTC,
    )
    before = plan_session(today)
    assert before.doses == 0
    assert what_if(before, move_to(today, ON + timedelta(days=3), assess)).doses == 1
    assert what_if(before, move_to(today, ON + timedelta(days=6), assess)).doses == 0  # lot expired


def test_the_hours_stay_the_clinics_hours_when_the_clock_changes_in_between():
    clock = ZoneInfo("CET")
    start = datetime(2026, 10, 23, 9, 0, tzinfo=clock)  # two days before the clock goes back
    child = Child(id="c", born=ON - timedelta(days=400))

    def assess(child: Child, day):
        return need_of(child, day, Answer(id="c", assess_on=day, edition="us-2025"))

    one = SessionChild(need=assess(child, start.date()), at=start + timedelta(minutes=20))
    made = prepare([one], [], start, start + timedelta(hours=3), zone=clock)
    moved = move_to(made, start.date() + timedelta(days=4), assess)
    assert f"{moved.start:%m-%d %H:%M}" == "10-27 09:00"
    assert f"{moved.times[0]:%H:%M}" == "09:20"


def test_a_what_if_of_an_ordinary_session_takes_a_second_or_two():
    session = invent_session(4, 60, 80, vaccinators=6)
    before = plan_session(session)
    assert what_if(before, vaccinators(session, -1), seconds=2).plan.seconds < 4
