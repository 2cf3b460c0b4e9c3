"""The day on which a supply runs out: against counting by hand and against all outcomes."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traywise.session.distribution import NOTHING, add
from traywise.session.needle_order import Plan, StockLot, plan_orders
from traywise.session.needles import (
    Horizon,
    Kind,
    Visit,
    demand,
    demand_by_date,
    sharps_per_container,
)
from traywise.session.run_out import HIGH, LOW, MID, Reserve, RunOut, run_out

LONG, WIPE, CONTAINER = Kind("needle", 25, 25), Kind("wipe"), Kind("sharps-container")
START = date(2026, 1, 5)
PLAN = Plan(service=0.95, spare=0.0)


def week(number: int) -> date:
    return START + timedelta(weeks=number - 1)


def line_of(lots, *, kind=WIPE, count=2, sessions=10, no_show=0.0, plan=PLAN):
    horizon = Horizon(
        start=START, days=7 * sessions, sessions=sessions, no_show=no_show, walk_ins=0.0
    )
    use = demand([Visit(uses={kind: 1})] * count, horizon)
    return next(one for one in plan_orders(use, lots, plan) if one.kind == kind)


def stock(count: int, expires: date | None = None, kind: Kind = WIPE) -> StockLot:
    return StockLot(kind=kind, count=count, expires=expires)


# Two wipes a week for ten weeks, nobody stays away: lots -> first day on which one is lacking
CERTAIN = [
    ([], week(1)),
    ([stock(1)], week(1)),
    ([stock(2)], week(2)),
    ([stock(3)], week(2)),
    ([stock(19)], week(10)),
    ([stock(20)], None),
    # a lot is used through its last day and not after
    ([stock(20, week(3))], week(4)),
    ([stock(20, week(3) - timedelta(days=1))], week(3)),
    ([stock(20, START - timedelta(days=1))], week(1)),
    # what one lot lacks the next gives, the soonest first whatever the order of the list
    ([stock(4), stock(100, week(2))], week(5)),
    ([stock(100, week(2)), stock(16)], None),
    ([stock(100, week(2)), stock(15)], week(10)),
]


@pytest.mark.parametrize(("lots", "day"), CERTAIN)
def test_without_chance_the_day_is_the_one_counted_by_hand(lots, day):
    assert line_of(lots).runs_out == RunOut(low=day, mid=day, high=day)


def test_spoilt_needles_are_counted():
    lots = [stock(22, kind=LONG)]
    spare = Plan(service=0.95, spare=0.1)
    assert line_of(lots, kind=LONG, plan=spare).runs_out == RunOut()
    assert line_of([stock(21, kind=LONG)], kind=LONG, plan=spare).runs_out.mid == week(10)


def test_with_chance_the_range_is_that_of_all_outcomes():
    """Two children, each there in 7 of 10 sessions, four sessions, three wipes: 2^8 outcomes."""
    shares = dict.fromkeys((*map(week, range(1, 5)), None), 0.0)
    for came in product((0, 1), repeat=8):
        chance = 1.0
        for one in came:
            chance *= 0.7 if one else 0.3
        used = [sum(came[2 * session : 2 * session + 2]) for session in range(4)]
        lacking = [week(n + 1) for n in range(4) if sum(used[: n + 1]) > 3]
        shares[lacking[0] if lacking else None] += chance
    through, expected = 0.0, {}
    for day in map(week, range(1, 5)):
        through += shares[day]
        for level in (LOW, MID):
            if through >= level:
                expected.setdefault(level, day)
    found = line_of([stock(3)], sessions=4, no_show=0.3).runs_out
    assert (found.low, found.mid) == (expected[LOW], expected[MID])
    assert found.high is None  # fewer than 95 of 100 outcomes lack one at all
    assert through < 0.95


def test_containers_run_out_when_they_are_full():
    """A container holds the table's figure, of which one in eleven is a spoilt piece."""
    horizon = Horizon(start=START, days=70, sessions=10, no_show=0.0, walk_ins=0.0)
    use = demand([Visit(uses={LONG: 1}, sharps=1)] * 20, horizon)
    room = sharps_per_container() / 1.1
    for count in (0, 1, 2):
        one = plan_orders(use, [stock(count, kind=CONTAINER)], PLAN)[-1]
        assert one.kind == CONTAINER
        assert one.runs_out.mid == week(1 + int(count * room // 20))


@pytest.mark.parametrize(
    ("lot", "outlook"),
    [
        (stock(20, week(3)), [(20, 14, False)]),
        (stock(6, week(3)), [(6, 0, False)]),
        (stock(20, START - timedelta(days=1)), [(20, 20, True)]),
        (stock(20, week(40)), []),
        (stock(20), []),
        (stock(0, week(3)), []),
    ],
)
def test_a_lot_that_expires_says_how_much_of_it_stays(lot, outlook):
    line = line_of([lot])
    assert [(one.count, round(one.unused, 9), one.expired) for one in line.lots] == outlook
    assert line.lost == pytest.approx(sum(n for _, n, gone in outlook if not gone))


def first_days(days, pieces, levels=(LOW, MID, HIGH)):
    """The plain way: every day added up, the chance looked at after each."""
    found, total = {}, NOTHING
    for day, use in days:
        total = add(total, use)
        for level in levels:
            if 1 - total.at_most(pieces) >= level - 1e-9:
                found.setdefault(level, day)
    return RunOut(**dict(zip(("low", "mid", "high"), map(found.get, levels), strict=True)))


@settings(max_examples=40, deadline=None)
@given(
    st.integers(1, 30), st.integers(1, 4), st.floats(0, 0.9), st.floats(0, 3), st.integers(0, 120)
)
def test_steps_of_doubled_length_find_the_same_day_as_day_by_day(
    sessions, children, no_show, walk_ins, pieces
):
    horizon = Horizon(
        start=START, days=7 * sessions, sessions=sessions, no_show=no_show, walk_ins=walk_ins
    )
    use = demand([Visit(uses={WIPE: 1})] * children, horizon)
    found = run_out(use.by_day[WIPE], [Reserve(None, pieces)])
    assert found == first_days(use.by_day[WIPE], pieces)


def test_days_that_differ_are_followed_too():
    horizon = Horizon(start=START, days=70, sessions=5, no_show=0.2, walk_ins=0.5)
    dated = [(week(n % 9 + 1), Visit(uses={WIPE: n % 3 + 1})) for n in range(20)]
    days = demand_by_date(dated, horizon).by_day[WIPE]
    for pieces in (0, 5, 12, 30, 80):
        assert run_out(days, [Reserve(None, pieces)]) == first_days(days, pieces)
