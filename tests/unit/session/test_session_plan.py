"""What a session's plan says: who gets what, who waits and why, what to fetch, when to mix."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import msgspec
import pytest
from tests.invented_session import ON, START, invent_session

from traywise.errors import InputError
from traywise.record.child import Child
from traywise.schedule.answer import Answer, GroupForecast
from traywise.session.check import check_plan
from traywise.session.make_plan import plan_session
from traywise.session.plan import SessionPlan
from traywise.session.request import Session, SessionChild, Weights, prepare
from traywise.shelf.lot import Lot
from traywise.shelf.reorder import StockLevels
from traywise.tray.need import need_of

END = START + timedelta(hours=3)


def forecast(number: int, overdue_days: int = 0) -> GroupForecast:
    return GroupForecast(
        status="overdue" if overdue_days else "due",
        next_dose=number,
        earliest=ON - timedelta(days=400),
        due=ON - timedelta(days=400),
        overdue=ON - timedelta(days=overdue_days) if overdue_days else None,
    )


def child(
    name: str, groups: dict[str, GroupForecast], minute: int | None = 0, *, days: int = 1520,
    funding: str = "", back="", **more,
) -> SessionChild:  # fmt: skip
    record = Child(id=name, born=ON - timedelta(days=days), answers={"funding": funding}, **more)
    answer = Answer(id=name, assess_on=ON, edition="us-2025", groups=groups)
    at = None if minute is None else START + timedelta(minutes=minute)
    return SessionChild(need=need_of(record, ON, answer), at=at, back=back)


def lot(cvx: str, presentation: str, doses: int, **more) -> Lot:
    usual = {"lot": f"L{cvx}", "unit": "fridge 1", "expires": date(2027, 6, 30)}
    return Lot(**{**usual, "cvx": cvx, "presentation": presentation, "doses": doses, **more})


def session(children, shelf, **more) -> Session:
    return prepare(children, shelf, START, END, zone=UTC, **{"vaccinators": 2, **more})


def given(plan: SessionPlan) -> dict[str, list[str]]:
    return {visit.child: sorted(pick.vaccine for pick in visit.picks) for visit in plan.visits}


def test_joint_planning_serves_a_child_whom_one_by_one_planning_turns_away():
    # The single tray takes the injected dose for "early", because that lot ends sooner;
    # "late", too young for the spray, then goes home without.
    early = child("early", {"Flu": forecast(1)}, 0, days=1520)
    late = child("late", {"Flu": forecast(1)}, 30, days=250)
    flu = [
        lot("140", "prefilled", 1, expires=date(2026, 12, 31)),  # from 6 months
        lot("111", "spray", 1),  # from 2 years
    ]
    one_by_one = plan_session(session([early, late], flu), optimise=False)
    together = plan_session(session([early, late], flu))
    assert given(one_by_one) == {"early": ["IIV3"], "late": []}
    assert given(together) == {"early": ["LAIV3"], "late": ["IIV3"]}
    assert "go to children" in one_by_one.visits[1].missed[0].why


def test_the_more_overdue_and_those_who_cannot_return_go_first():
    shelf = [lot("216", "prefilled", 1)]
    need = {"PCV": forecast(1)}
    late = {"PCV": forecast(1, overdue_days=30)}
    plan = plan_session(session([child("a", need), child("b", late, 30)], shelf))
    assert given(plan) == {"a": [], "b": ["PCV20"]}
    plan = plan_session(session([child("a", late), child("b", need, 30, back="unlikely")], shelf))
    assert given(plan) == {"a": [], "b": ["PCV20"]}
    flat = Weights.of_table(return_unlikely=0, return_hard=0)
    plan = plan_session(
        session([child("a", late), child("b", need, 30, back="unlikely")], shelf, weights=flat)
    )
    assert given(plan) == {"a": ["PCV20"], "b": []}


def test_what_would_change_it_is_said():
    need = {"PCV": forecast(1)}
    shelf = [lot("216", "prefilled", 1, funding="private")]
    made = session([child("a", need, funding="public")], shelf, next_session=date(2026, 12, 1))
    (missed,) = plan_session(made).visits[0].missed
    assert [change.kind for change in missed.changes] == ["borrow", "order", "reschedule"]
    assert missed.changes[-1].until == date(2026, 12, 1)
    young = child("b", {"MMR": forecast(1)}, days=300)
    (missed,) = plan_session(session([young], [lot("03", "vial+diluent", 1)])).visits[0].missed
    assert [change.kind for change in missed.changes] == ["reschedule"]
    assert missed.until == date(2027, 1, 28)  # the first birthday
    no_time = session([child("c", need)], [lot("216", "prefilled", 1)], vaccinators=0)
    (missed,) = plan_session(no_time).visits[0].missed
    assert [change.kind for change in missed.changes] == ["vaccinator"]


def test_time_of_the_vaccinators_is_kept_and_the_end_of_the_session_is_nearest():
    # 8 minutes a child with one dose: two fit into the last 16 minutes, a third does not.
    need, shelf = {"PCV": forecast(1)}, [lot("216", "prefilled", 9)]
    last = 180 - 16
    three = [child(name, need, last) for name in "abc"]
    plan = plan_session(session(three, shelf, vaccinators=1))
    assert sum(bool(picks) for picks in given(plan).values()) == 2
    early = [child("a", need, 0), *three[1:]]
    assert all(given(plan_session(session(early, shelf, vaccinators=1))).values())


def test_pick_list_timeline_and_leftovers():
    flu = lot("141", "multidose", 20, lot="F1", unit="fridge 2")
    var = lot("21", "vial+diluent", 5)
    children = [
        child(f"c{i:02}", {"Flu": forecast(1), "VAR": forecast(2)}, i * 10) for i in range(4)
    ]
    plan = plan_session(session(children, [flu, var]))
    lines = [(line.unit, line.lot, line.doses, line.containers) for line in plan.pick_list]
    assert lines == [("fridge 1", "L21", 4, 4), ("fridge 2", "F1", 4, 1)]
    assert plan.pick_list[0].diluent == "sterile water"
    mixes = [step for step in plan.timeline if step.what == "mix"]
    assert [step.children for step in mixes] == [("c00",), ("c01",), ("c02",), ("c03",)]
    # Mixed 5 minutes before, used by 30 minutes after mixing.
    assert mixes[1].at == START + timedelta(minutes=5)
    assert mixes[1].use_by == START + timedelta(minutes=35)
    (vial,) = [step for step in plan.timeline if step.what == "open"]
    assert (vial.doses, vial.left) == (4, 6)
    assert vial.use_by == START + timedelta(days=28)
    assert [(left.lot, left.doses) for left in plan.leftovers] == [("F1", 6)]


def test_a_short_lived_vial_is_opened_again_rather_than_kept_too_long():
    # Yellow fever, 60 minutes after mixing: children at 0 and 100 minutes need two vials.
    vial = lot("37", "multidose", 10, doses_per_vial=5)
    children = [child(f"y{minute}", {"YF": forecast(1)}, minute) for minute in (0, 10, 100, 110)]
    made = session(children, [vial])
    plan = plan_session(made)
    assert all(given(plan).values())
    opened = [step for step in plan.timeline if step.what == "open"]
    assert [step.children for step in opened] == [("y0", "y10"), ("y100", "y110")]
    assert check_plan(made, plan) == ()
    # With one vial only one pair can be served.
    one = plan_session(session(children, [lot("37", "multidose", 5, doses_per_vial=5)]))
    assert sum(bool(picks) for picks in given(one).values()) == 2


def test_an_opened_vial_serves_until_its_hour_and_is_used_up_first():
    opened = lot(
        "141", "multidose", 1, lot="OPEN", opened_at=START - timedelta(days=28, hours=-1)
    )  # ends an hour into the session
    fresh = lot("141", "multidose", 10, lot="NEW", expires=date(2027, 1, 31))
    early, late = child("a", {"Flu": forecast(1)}, 0), child("b", {"Flu": forecast(1)}, 50)
    plan = plan_session(session([early, late], [opened, fresh]))
    assert {v.child: v.picks[0].lot.lot for v in plan.visits} == {"a": "OPEN", "b": "NEW"}
    # 41 minutes in, with 20 minutes of grace for being late, the old vial would be over.
    only = plan_session(session([child("a", {"Flu": forecast(1)}, 41)], [opened]))
    assert given(only) == {"a": []}
    just = plan_session(session([child("a", {"Flu": forecast(1)}, 39)], [opened]))
    assert given(just) == {"a": ["IIV3-multidose"]}


def test_an_opened_vial_that_nobody_needs_is_left_over_and_no_step():
    vial = lot("141", "multidose", 4, lot="OPEN", opened_at=START - timedelta(days=1))
    over = lot("141", "multidose", 4, lot="OVER", opened_at=START - timedelta(days=29))
    plan = plan_session(session([child("a", {"PCV": forecast(1)})], [vial, over]))
    assert plan.timeline == ()
    assert [(left.lot, left.doses) for left in plan.leftovers] == [("OPEN", 4)]


def test_expiring_doses_and_the_order_list():
    soon = lot("216", "prefilled", 3, expires=ON + timedelta(days=30))
    later = lot("33", "prefilled", 3, expires=ON + timedelta(days=31))
    needs = [child("a", {"PCV": forecast(1)}), child("b", {"HPV": forecast(1)}, days=4100)]
    plan = plan_session(
        session(needs, [soon, later]),
        levels={"PPSV23": StockLevels(minimum=2, maximum=9, reorder_at=4)},
    )
    assert [(entry.lot, entry.doses) for entry in plan.expiring] == [("L216", 2)]
    order = {entry.vaccine: (entry.left, entry.missing, entry.order) for entry in plan.reorder}
    assert order == {"HPV9": (0, 1, 2), "PPSV23": (3, 0, 6)}


def test_children_without_an_appointment_are_spread_over_the_session():
    need = {"PCV": forecast(1)}
    made = session([child(name, need, None) for name in "abc"], [lot("216", "prefilled", 9)])
    assert [at - START for at in made.times] == [timedelta(minutes=m) for m in (0, 60, 120)]


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"end": START}, "session.E001"),
        ({"vaccinators": -1}, "session.E002"),
        ({"children": ["a", "a"]}, "session.E003"),
        ({"start": START + timedelta(days=1), "end": END + timedelta(days=1)}, "session.E004"),
        ({"start": START + timedelta(minutes=1)}, "session.E005"),
    ],
)
def test_a_session_that_cannot_be_is_refused(change, code):
    names = change.pop("children", ["a"])
    children = [child(name, {"PCV": forecast(1)}) for name in names]
    start, end = change.pop("start", START), change.pop("end", END)
    with pytest.raises(InputError) as error:
        prepare(children, [], start, end, zone=UTC, **change)
    assert code in [fault.code for fault in error.value.faults]


def test_a_session_without_children_or_shelf_is_planned_too():
    assert plan_session(session([], [])).visits == ()
    plan = plan_session(session([child("a", {"PCV": forecast(1)})], []))
    assert plan.missed == 1
    assert plan.proven


def spoiled(session: Session, plan: SessionPlan):
    """The plan with one rule broken at a time, and the breach the validator must name."""
    replace = msgspec.structs.replace

    def first(change) -> SessionPlan:
        visits = list(plan.visits)
        at = next(i for i, visit in enumerate(visits) if visit.picks)
        visits[at] = change(visits[at])
        return replace(plan, visits=tuple(visits))

    def pick(**more):
        return lambda visit: replace(
            visit, picks=(replace(visit.picks[0], **more), *visit.picks[1:])
        )

    def with_lot(**more):
        return lambda visit: pick(lot=replace(visit.picks[0].lot, **more))(visit)

    yield "session.E101", replace(plan, visits=plan.visits[1:])
    yield "session.E102", replace(plan, visits=plan.visits[::-1])
    yield "session.E110", first(with_lot(lot="STRANGE"))
    yield "session.E111", first(pick(injections=99))
    yield "session.E120", first(pick(injections=99))
    yield "session.E130", first(lambda visit: replace(visit, picks=(*visit.picks, visit.picks[0])))
    yield "session.E132", first(lambda visit: replace(visit, picks=()))
    yield "session.E140", first(with_lot(expires=ON - timedelta(days=1)))
    yield "session.E141", first(with_lot(held="recalled"))
    yield "session.E143", first(with_lot(cvx="33", vaccine=""))
    yield "session.E144", first(with_lot(discard_at=START - timedelta(hours=1)))
    yield "session.E160", first(pick(groups=()))
    yield "session.E174", replace(plan, timeline=())


def test_the_validator_names_every_breach():
    made = invent_session(5, 12, 40, vaccinators=1)
    plan = plan_session(made)
    assert check_plan(made, plan) == ()
    for code, broken in spoiled(made, plan):
        assert code in [fault.code for fault in check_plan(made, broken)], code


def test_the_validator_sees_the_childs_own_rules():
    need = {"DTaP": forecast(4), "IPV": forecast(3), "Hib": forecast(4)}
    made = session([child("a", need, days=490)], [lot("120", "vial+diluent", 1)])
    plan = plan_session(made)
    assert check_plan(made, plan) == ()
    for change, code in [
        ({"DTaP": forecast(5)}, "session.E164"),
        (
            {"Hib": msgspec.structs.replace(forecast(4), earliest=ON + timedelta(days=1))},
            "session.E162",
        ),
        ({"Hib": msgspec.structs.replace(forecast(4), products=("Hib-PRP-T",))}, "session.E163"),
        ({"Hib": GroupForecast(status="complete")}, "session.E161"),
    ]:
        other = session([child("a", {**need, **change}, days=490)], made.shelf)
        assert code in [fault.code for fault in check_plan(other, plan)], code
    old = session([child("a", need, days=1900)], made.shelf)
    assert "session.E150" in [fault.code for fault in check_plan(old, plan)]
    public = session([child("a", need, days=490, funding="public")], made.shelf)
    visit = plan.visits[0]
    private = msgspec.structs.replace(visit.picks[0].lot, funding="private")
    mixed = msgspec.structs.replace(
        visit, picks=(msgspec.structs.replace(visit.picks[0], lot=private),)
    )
    broken = msgspec.structs.replace(plan, visits=(mixed,))
    assert "session.E142" in [fault.code for fault in check_plan(public, broken)]


def test_opening_hours_are_taken_in_the_clinics_clock():
    naive = datetime(2026, 11, 24, 8, 0)  # noqa: DTZ001 - the clinic's own clock is meant
    made = prepare(
        [child("a", {"PCV": forecast(1)})], [], naive, naive + timedelta(hours=3), zone=UTC
    )
    assert made.start == START
