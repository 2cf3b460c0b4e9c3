"""Demand of a clinic: conservation, and 10 000 simulated quarters against the exact order."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from math import exp
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traywise.session.needle_order import Plan, StockLot, plan_orders
from traywise.session.needles import Horizon, Kind, demand, demand_by_date, visit_of

LONG, SHORT = Kind("needle", 25, 25), Kind("needle", 25, 16)
SYRINGE, WIPE, LABEL = Kind("syringe", volume_ml=1.0), Kind("wipe"), Kind("label")
START = date(2026, 1, 5)

# An invented session: infants with three injections, toddlers with two, one adolescent.
ROSTER = [
    *[visit_of([(LONG, 2), (SHORT, 1), (SYRINGE, 2), (WIPE, 3), (LABEL, 3)])] * 6,
    *[visit_of([(LONG, 1), (SHORT, 1), (SYRINGE, 2), (WIPE, 2), (LABEL, 2)])] * 4,
    visit_of([(LONG, 4), (SYRINGE, 4), (WIPE, 4), (LABEL, 4)]),
]


def horizon(sessions: int, no_show: float = 0, walk_ins: float = 0, days: int = 0) -> Horizon:
    return Horizon(
        start=START,
        days=days or 7 * sessions,
        sessions=sessions,
        no_show=no_show,
        walk_ins=walk_ins,
    )


QUARTER = horizon(13, 0.15, 1.5)


def poisson(random: Random, mean: float) -> int:
    limit, product, count = exp(-mean), random.random(), 0
    while product > limit:
        product *= random.random()
        count += 1
    return count


def simulate_session(random: Random) -> list:
    """Visits that take place in one session, written apart from the code under test."""
    came = [visit for visit in ROSTER if random.random() >= QUARTER.no_show]
    return came + [random.choice(ROSTER) for _ in range(poisson(random, QUARTER.walk_ins))]


@pytest.fixture(scope="module")
def quarters() -> list[list[dict]]:
    """10 000 quarters, each a list of sessions, each the pieces by kind."""
    random = Random(4)
    kinds = {id(visit): place for place, visit in enumerate(ROSTER)}
    uses = [list(visit.uses.items()) for visit in ROSTER]
    result = []
    for _ in range(10_000):
        quarter = []
        for _ in range(QUARTER.sessions):
            pieces = dict.fromkeys((LONG, SHORT, SYRINGE, WIPE, LABEL), 0)
            for place, came in Counter(map(kinds.get, map(id, simulate_session(random)))).items():
                for kind, count in uses[place]:
                    pieces[kind] += count * came
            quarter.append(pieces)
        result.append(quarter)
    return result


def plan(**changes) -> Plan:
    base = {"service": 0.95, "spare": 0.0}
    return Plan(**(base | changes))


def test_mean_and_spread_agree_with_the_simulation(quarters):
    exact = demand(ROSTER, QUARTER)
    for kind, total in exact.total.items():
        used = [sum(session[kind] for session in quarter) for quarter in quarters]
        mean = sum(used) / len(used)
        assert total.mean == pytest.approx(mean, abs=4 * total.deviation / 100)
        variance = sum((u - mean) ** 2 for u in used) / len(used)
        assert total.deviation == pytest.approx(variance**0.5, rel=0.03)


@pytest.mark.parametrize("service", [0.8, 0.95, 0.99])
def test_the_order_meets_the_service_level_in_10_000_quarters(quarters, service):
    lines = plan_orders(demand(ROSTER, QUARTER), [], plan(service=service))
    error = 3 * (service * (1 - service) / 10_000) ** 0.5
    for line in lines:
        if line.kind.item == "sharps-container":
            continue
        enough = sum(
            sum(session[line.kind] for session in quarter) <= line.order for quarter in quarters
        )
        assert enough / 10_000 >= service - error, line.kind
        assert line.service >= service - 1e-9
        # and not one piece more than it takes
        assert line.missing.at_most(line.needed - 1) < service


def test_the_order_meets_the_service_level_when_stock_expires(quarters):
    lots = [
        StockLot(kind=LONG, count=60, expires=START + timedelta(days=20)),
        StockLot(kind=LONG, count=90, expires=START + timedelta(days=60)),
        StockLot(kind=LONG, count=40),
    ]
    line = next(
        line for line in plan_orders(demand(ROSTER, QUARTER), lots, plan()) if line.kind == LONG
    )
    lost = enough = 0
    for quarter in quarters:
        left = [[lot.expires, lot.count] for lot in lots] + [[None, line.order]]
        short = False
        for number, session in enumerate(quarter):
            day = START + timedelta(days=91 * number // 13)
            need = session[LONG]
            for pile in left:
                if pile[0] is None or pile[0] >= day:
                    taken = min(need, pile[1])
                    pile[1] -= taken
                    need -= taken
            short = short or need > 0
        enough += not short
        lost += sum(count for expires, count in left if expires is not None)
    assert enough / 10_000 == pytest.approx(line.service, abs=0.01)
    assert enough / 10_000 >= 0.95 - 0.0066
    assert line.lost == pytest.approx(lost / 10_000, abs=0.5)


@given(st.integers(0, 400), st.floats(0, 0.9), st.floats(0, 10))
def test_every_place_of_a_session_is_counted_once(seed, no_show, mean):
    # conservation: labels are one a place, needles and syringes follow the places
    random = Random(seed)
    came = [visit for visit in ROSTER if random.random() >= no_show]
    places = sum(visit.uses[LABEL] for visit in came)
    assert places == sum(visit.sharps for visit in came)
    assert places == sum(visit.uses.get(LONG, 0) + visit.uses.get(SHORT, 0) for visit in came)
    exact = demand(ROSTER, horizon(1, no_show, mean))
    needles = exact.total[LONG].mean + exact.total[SHORT].mean
    assert needles == pytest.approx(exact.total[LABEL].mean)
    assert exact.sharps.mean == pytest.approx(exact.total[LABEL].mean)


def test_without_doubt_the_demand_is_the_roster():
    exact = demand(ROSTER, horizon(3))
    for kind in (LONG, SHORT, SYRINGE, WIPE, LABEL):
        pieces = 3 * sum(visit.uses.get(kind, 0) for visit in ROSTER)
        assert (exact.total[kind].first, exact.total[kind].last) == (pieces, pieces)


def test_needles_by_route_add_up_to_the_needles():
    visit = visit_of([(LONG, 2), (SHORT, 1)], [(LONG, "IM"), (LONG, "IM"), (SHORT, "SC")])
    exact = demand([visit] * 5, horizon(4, 0.2, 1))
    assert exact.by_route[LONG, "IM"] == pytest.approx(exact.total[LONG].mean)
    assert exact.by_route[SHORT, "SC"] == pytest.approx(exact.total[SHORT].mean)


def test_training_module_example_of_syringes_and_boxes():
    # storage.md, "Syringes and boxes": 500 doses, 50 ten-dose vials; x 1.1 (training text), x 1.11
    # (WHO tools, from memory); boxes of 100: (AD + mixing) / 100 -> 7
    uses = [(Kind("syringe", volume_ml=0.5), 10), (Kind("syringe", volume_ml=5.0), 1)]
    exact = demand([visit_of(uses)], horizon(50))
    lines = {line.kind: line for line in plan_orders(exact, [], plan(spare=0.11))}
    assert lines[Kind("syringe", volume_ml=0.5)].order == 555
    assert lines[Kind("syringe", volume_ml=5.0)].order == 56
    assert lines[Kind("sharps-container")].order == 7
    by_table = plan_orders(exact, [], plan(spare=None))
    assert by_table[0].order == 550  # 500 x 1.1


def test_orders_come_in_whole_boxes_and_stock_counts_first():
    exact = demand([visit_of([(LONG, 1)])] * 10, horizon(10, days=10))
    lots = [StockLot(kind=LONG, count=30, box=50)]
    line = plan_orders(exact, lots, plan())[0]
    assert (line.needed, line.boxes, line.order) == (70, 2, 100)
    enough = plan_orders(exact, [StockLot(kind=LONG, count=100)], plan())[0]
    assert (enough.needed, enough.order) == (0, 0)


@pytest.mark.parametrize(
    ("expires", "needed", "lost"),
    [
        (START - timedelta(days=1), 100, 0),  # no longer usable at all: counted as expired
        (START, 90, 20),  # serves the first of ten sessions
        (START + timedelta(days=1), 80, 10),
        (START + timedelta(days=2), 70, 0),
        (None, 70, 0),
    ],
)
def test_a_lot_serves_through_its_last_day(expires, needed, lost):
    exact = demand([visit_of([(LONG, 1)])] * 10, horizon(10, days=10))
    lots = [StockLot(kind=LONG, count=30, expires=expires)]
    line = plan_orders(exact, lots, plan())[0]
    assert line.needed == needed
    assert line.lost == pytest.approx(lost)
    assert line.expired == (30 if needed == 100 else 0)


def test_sessions_lie_evenly_over_the_horizon():
    days = horizon(4, days=14).session_days()
    assert [(day - START).days for day in days] == [0, 3, 7, 10]
    assert horizon(1, days=91).session_days() == [START]


@pytest.mark.parametrize(
    "impossible",
    [
        horizon(0, days=1),
        horizon(1, no_show=1.0),
        horizon(1, no_show=-0.1),
        horizon(1, walk_ins=201),
        horizon(1, days=-1),
    ],
)
def test_impossible_horizons_are_refused(impossible):
    with pytest.raises(ValueError, match="lie"):
        demand(ROSTER, impossible)
    with pytest.raises(ValueError, match="lie"):
        demand_by_date([(START, ROSTER[0])], impossible)


def test_dated_visits_equal_sessions_when_the_days_are_the_same():
    dated = [(day, visit) for day in QUARTER.session_days() for visit in ROSTER]
    by_date, by_session = demand_by_date(dated, QUARTER), demand(ROSTER, QUARTER)
    for kind, total in by_session.total.items():
        assert by_date.total[kind].mean == pytest.approx(total.mean)
        assert by_date.total[kind].deviation == pytest.approx(total.deviation)
        assert by_date.total[kind].quantile(0.95) == total.quantile(0.95)
    lots = [StockLot(kind=LONG, count=60, expires=START + timedelta(days=20))]
    orders = [plan_orders(each, lots, plan()) for each in (by_date, by_session)]
    assert [line.order for line in orders[0]] == [line.order for line in orders[1]]
    assert orders[0][0].lost == pytest.approx(orders[1][0].lost)


def test_visits_outside_the_horizon_are_left_out():
    before, after = START - timedelta(days=1), START + timedelta(days=91)
    dated = [(before, ROSTER[0]), (START, ROSTER[0]), (after, ROSTER[0])]
    exact = demand_by_date(dated, horizon(13))
    assert exact.total[LABEL].mean == ROSTER[0].uses[LABEL]


def test_a_lot_cannot_serve_a_visit_after_its_last_day():
    dated = [(START, ROSTER[0]), (START + timedelta(days=30), ROSTER[0])]
    lots = [StockLot(kind=LONG, count=10, expires=START + timedelta(days=29))]
    line = plan_orders(demand_by_date(dated, horizon(13)), lots, plan())[1]
    assert line.kind == LONG
    assert (line.needed, line.lost) == (2, 8)


def test_a_service_level_of_certainty_is_refused():
    with pytest.raises(ValueError, match="service level"):
        plan_orders(demand(ROSTER, QUARTER), [], plan(service=1.0))
