"""Sharing out needles and syringes: as good as trying every way of doing it."""

from __future__ import annotations

from itertools import permutations, product

from hypothesis import given, settings
from hypothesis import strategies as st

from traywise.equipment import Needle, SupplyOnHand
from traywise.equipment.allot import Want, allot
from traywise.equipment.assign import assign

NEEDLES = [Needle(gauge=25, length_mm=mm) for mm in (16, 25, 38)]
SIZES = [1.0, 3.0]

tables = st.integers(1, 4).flatmap(
    lambda rows: st.integers(rows, 5).flatmap(
        lambda columns: st.lists(
            st.lists(st.integers(0, 9), min_size=columns, max_size=columns),
            min_size=rows,
            max_size=rows,
        )
    )
)


@settings(max_examples=200, deadline=None)
@given(costs=tables)
def test_the_assignment_costs_no_more_than_any_other(costs):
    found = assign(costs)
    assert len(set(found)) == len(costs)
    least = min(
        sum(row[column] for row, column in zip(costs, columns, strict=True))
        for columns in permutations(range(len(costs[0])), len(costs))
    )
    assert sum(row[column] for row, column in zip(costs, found, strict=True)) == least


wants = st.builds(
    Want,
    needles=st.lists(st.sampled_from(NEEDLES), min_size=1, max_size=3, unique=True).map(tuple),
    sizes_ml=st.lists(st.sampled_from(SIZES), max_size=2, unique=True).map(tuple),
)
stocks = st.tuples(
    st.lists(st.integers(0, 2), min_size=3, max_size=3),
    st.lists(st.integers(0, 2), min_size=2, max_size=2),
    st.integers(0, 2),
)


def supplies_of(stock):
    loose, syringes, sets = stock
    lines = [
        SupplyOnHand(item="needle", gauge=n.gauge, length_mm=n.length_mm, count=count)
        for n, count in zip(NEEDLES, loose, strict=True)
    ]
    lines += [
        SupplyOnHand(item="syringe", volume_ml=size, count=count)
        for size, count in zip(SIZES, syringes, strict=True)
    ]
    lines.append(
        SupplyOnHand(item="needle+syringe", gauge=25, length_mm=25, volume_ml=1.0, count=sets)
    )
    return lines


def most_served(asked, stock):
    """The most needles and syringes together that any way of sharing hands out."""
    loose, syringes, sets = stock
    choices = []
    for want in asked:
        ways = [
            (needle, size, False)
            for needle in (*want.needles, None)
            for size in ((*want.sizes_ml, None) if want.sizes_ml else (None,))
        ]
        if NEEDLES[1] in want.needles and (not want.sizes_ml or 1.0 in want.sizes_ml):
            ways.append((NEEDLES[1], 1.0 if want.sizes_ml else None, True))
        choices.append(ways)
    best = 0
    for way in product(*choices):
        fits = (
            all(
                sum(n == needle and not whole for n, _, whole in way) <= count
                for needle, count in zip(NEEDLES, loose, strict=True)
            )
            and all(
                sum(s == size and not whole for _, s, whole in way) <= count
                for size, count in zip(SIZES, syringes, strict=True)
            )
            and sum(whole for *_, whole in way) <= sets
        )
        if fits:
            best = max(best, sum((n is not None) + (s is not None) for n, s, _ in way))
    return best


@settings(max_examples=120, deadline=None)
@given(asked=st.lists(wants, min_size=1, max_size=3), stock=stocks)
def test_as_many_places_are_served_as_the_stock_can_serve(asked, stock):
    given_out = allot(asked, supplies_of(stock))
    served = sum((g.needle is not None) + (g.size_ml is not None) for g in given_out)
    assert served == most_served(asked, stock)
    for want, got in zip(asked, given_out, strict=True):
        assert got.needle is None or got.needle in want.needles
        assert got.size_ml is None or got.size_ml in want.sizes_ml
