"""For any child and any visit the rules hold; the layout is the best there is.

The rules are those of check.py, written apart from the planner. The best layout is found a
second time by trying every combination of sites, with the cost added up from its definition.
"""

from __future__ import annotations

from datetime import date, timedelta
from itertools import combinations, product

from hypothesis import given, settings
from hypothesis import strategies as st

from traywise.equipment import DoseToPlace, SupplyOnHand, equip
from traywise.equipment.apart import are_kept_apart
from traywise.equipment.body import read_body
from traywise.equipment.check import check_layout
from traywise.equipment.equip import _injections
from traywise.equipment.layout import (
    Cost,
    best_layout,
    drop_cost,
    option_cost,
    pair_cost,
)
from traywise.equipment.site import LIMB_KIND, room_at
from traywise.equipment.tables import policies
from traywise.record.child import Child, Condition
from traywise.rulebook.vaccines import vaccines

ON = date(2026, 11, 24)
FLAGS = (
    "preterm",
    "bleeding-disorder",
    "deltoid-muscle-small",
    "deltoid-muscle-adequate",
    "anaphylaxis-latex",
    "deltoid-muscle-adult-size",
)

children = st.builds(
    Child,
    id=st.just("invented"),
    born=st.integers(0, 19 * 365 + 3).map(lambda days: ON - timedelta(days=days)),
    sex=st.sampled_from([None, "F", "M", "X"]),
    gestation_weeks=st.sampled_from([None, 24, 36, 37, 40]),
    weight_kg=st.one_of(
        st.none(), st.sampled_from([59.9, 60.0, 70.0, 90.0, 90.1, 118.0, 118.1]), st.floats(1, 150)
    ),
    avoid=st.lists(st.sampled_from(["LT", "RT", "LA", "RA", "LD"]), max_size=3).map(tuple),
    conditions=st.lists(st.sampled_from(FLAGS), max_size=3, unique=True).map(
        lambda keys: tuple(Condition(key=key) for key in keys)
    ),
)


@st.composite
def some_doses(draw, most):
    """Any products of the table in any presentation, some of two injections."""
    doses = []
    for n in range(draw(st.integers(0, most))):
        vaccine = vaccines()[draw(st.sampled_from(sorted(vaccines())))]
        twice = vaccine.globulin and draw(st.booleans()) and len(doses) < most - 1
        doses.append(
            DoseToPlace(
                vaccine=vaccine,
                presentation=draw(st.sampled_from(vaccine.presentations)),
                volume_ml=draw(st.sampled_from([0.05, 0.1, 0.25, 0.5, 0.7, 1.0, 2.0])),
                lot=f"L{n}",
                groups=vaccine.groups,
                injections=2 if twice else 1,
                urgency=draw(st.integers(0, 1)),
            )
        )
    return doses


supply_lines = st.one_of(
    st.builds(
        SupplyOnHand,
        item=st.sampled_from(["needle", "needle+syringe"]),
        gauge=st.sampled_from([22, 23, 25, 27]),
        length_mm=st.sampled_from([10, 16, 25, 32, 38]),
        volume_ml=st.sampled_from([1.0, 3.0]),
        count=st.integers(0, 4),
    ),
    st.builds(
        SupplyOnHand,
        item=st.just("syringe"),
        volume_ml=st.sampled_from([0.05, 0.5, 1.0, 3.0]),
        count=st.integers(0, 4),
    ),
)


@settings(max_examples=150, deadline=None)
@given(
    child=children,
    doses=some_doses(8),
    supplies=st.none() | st.lists(supply_lines, max_size=5),
    policy=st.sampled_from(sorted(policies())),
)
def test_every_place_keeps_the_rules(child, doses, supplies, policy):
    layout = equip(child, ON, doses, supplies, policy)
    assert check_layout(child, ON, layout) == []
    told = {place.dose for place in layout.places} | {left.dose for left in layout.unplaced}
    assert told == set(range(len(doses)))  # nothing is lost
    assert all(left.why for left in layout.unplaced)
    assert all("{" not in step for place in layout.places for step in place.steps)


@settings(max_examples=60, deadline=None)
@given(child=children, doses=some_doses(5), supplies=st.lists(supply_lines, max_size=5))
def test_no_more_is_taken_than_is_at_hand(child, doses, supplies):
    layout = equip(child, ON, doses, supplies)
    for size in {place.needle for place in layout.places if place.needle}:
        at_hand = sum(
            line.count
            for line in supplies
            if line.item != "syringe"
            and (line.gauge, line.length_mm) == (size.gauge, size.length_mm)
        )
        assert sum(place.needle == size for place in layout.places) <= at_hand


@settings(max_examples=60, deadline=None)
@given(child=children, doses=some_doses(5), data=st.data())
def test_the_order_of_entry_changes_nothing(child, doses, data):
    mixed = data.draw(st.permutations(doses))
    one, two = equip(child, ON, doses), equip(child, ON, mixed)
    seen = [[(p.what, p.part, p.site, p.position, p.needle) for p in x.places] for x in (one, two)]
    assert seen[0] == seen[1]
    assert {left.what.lot for left in one.unplaced} == {left.what.lot for left in two.unplaced}


def _cost_of(injections, options, body, policy):
    """The whole cost of one layout by its definition; None if it breaks a hard rule."""
    parts = [
        option_cost(i, o) if o else drop_cost(i) for i, o in zip(injections, options, strict=True)
    ]
    placed = [(i, o) for i, o in zip(injections, options, strict=True) if o]
    for i, o in zip(injections, options, strict=True):
        siblings = [other for j, other in zip(injections, options, strict=True) if j.dose == i.dose]
        if any((other is None) != (o is None) for other in siblings):
            return None
    for (one, here), (other, there) in combinations(placed, 2):
        if here.limb == there.limb:
            if are_kept_apart(one.what, other.what):
                return None
            parts.append(pair_cost(one, other))
    over = 0
    for key in {("limb", o.limb) for _, o in placed} | {(o.site, o.limb) for _, o in placed}:
        kind, limb = key
        there = sum(o.limb == limb and kind in ("limb", o.site) for _, o in placed)
        room = room_at(body, LIMB_KIND[limb] if kind == "limb" else kind, policy)
        if there > room.most:
            return None
        over += max(0, there - room.normal)
    parts.append(Cost(over_normal=over))
    return Cost(*(sum(values) for values in zip(*parts, strict=True)))


# Products that pull against each other: pairs, antibody and vaccine, arms and thighs, live ones.
CONTESTED = ("DTaP", "PCV20", "HepB", "HBIG", "TIG", "MMR", "VAR", "HPV9", "BCG", "IPV")


@st.composite
def contested_visits(draw):
    """Up to four injections, more than the limbs left free take with ease."""
    doses = []
    most = draw(st.sampled_from([2, 3, 4, 4, 4]))
    while room := most - sum(dose.injections for dose in doses):
        vaccine = vaccines()[draw(st.sampled_from(CONTESTED))]
        doses.append(
            DoseToPlace(
                vaccine=vaccine,
                presentation=vaccine.presentations[0],
                volume_ml=0.5,
                lot=f"L{len(doses)}",
                groups=vaccine.groups,
                injections=2 if room > 1 and draw(st.integers(0, 4)) == 0 else 1,
                urgency=draw(st.sampled_from([0, 0, 1])),
            )
        )
    return doses


contested_children = st.builds(
    Child,
    id=st.just("invented"),
    born=st.sampled_from([1, 60, 400, 600, 1500, 3000, 5000]).map(lambda d: ON - timedelta(days=d)),
    avoid=st.sampled_from([(), (), ("LT",), ("RA",), ("LT", "RT"), ("LT", "LA"), ("LA", "RA")]),
    conditions=st.sampled_from([(), (), FLAGS[2:3], FLAGS[3:4]]).map(
        lambda keys: tuple(Condition(key=key) for key in keys)
    ),
)


@settings(max_examples=250, deadline=None)
@given(
    child=contested_children,
    doses=contested_visits(),
    policy=st.sampled_from(["acip-2024", "acip-2024", "australia-2018"]),
)
def test_the_layout_is_as_good_as_the_best_of_all(child, doses, policy):
    body = read_body(child, ON)
    injections = _injections(doses, body, policy)
    found = best_layout(injections, body, policy)
    costs = [
        _cost_of(injections, options, body, policy)
        for options in product(*([*i.options, None] for i in injections))
    ]
    assert found.cost == min(cost for cost in costs if cost is not None)
    assert found.cost == _cost_of(injections, found.options, body, policy)
