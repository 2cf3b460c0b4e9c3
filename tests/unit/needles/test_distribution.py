"""Sums of uncertain counts: exact against textbook forms and brute force."""

from __future__ import annotations

from itertools import product
from math import comb, exp, factorial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traywise.session.distribution import (
    Distribution,
    add,
    beyond,
    expected_left,
    from_shares,
    repeat,
    showing_up,
    walk_ins,
)

counts = st.lists(st.tuples(st.integers(0, 4), st.floats(0, 1)), min_size=1, max_size=6)


def test_equal_children_are_a_binomial():
    found = repeat(showing_up(1, 0.85), 30)
    for k in (0, 10, 25, 30):
        exact = comb(30, k) * 0.85**k * 0.15 ** (30 - k)
        share = found.at_most(k) - found.at_most(k - 1)
        assert share == pytest.approx(exact, abs=1e-12)


def test_single_walk_ins_are_poisson():
    found = walk_ins(4.0, showing_up(1, 1.0))
    for k in (0, 4, 15):
        exact = exp(-4) * 4**k / factorial(k)
        assert found.at_most(k) - found.at_most(k - 1) == pytest.approx(exact, abs=1e-12)


def test_walk_ins_that_take_pairs_leave_odd_counts_empty():
    found = walk_ins(30.0, showing_up(2, 1.0))
    assert found.mean == pytest.approx(60)
    assert found.deviation == pytest.approx((30 * 4) ** 0.5)
    assert sum(found.shares[1 - found.first % 2 :: 2]) == 0


@settings(max_examples=60, deadline=None)
@given(counts)
def test_sums_equal_brute_force(children):
    total = Distribution(0, (1.0,))
    for count, chance in children:
        total = add(total, showing_up(count, chance))
    exact: dict[int, float] = {}
    for comes in product((0, 1), repeat=len(children)):
        share, pieces = 1.0, 0
        for (count, chance), here in zip(children, comes, strict=True):
            share *= chance if here else 1 - chance
            pieces += count * here
        exact[pieces] = exact.get(pieces, 0.0) + share
    for pieces in exact:
        below = sum(share for k, share in exact.items() if k <= pieces)
        assert total.at_most(pieces) == pytest.approx(below, abs=1e-9)
    assert sum(total.shares) == pytest.approx(1)


@given(st.integers(0, 40), st.integers(1, 30), st.floats(0.05, 0.95))
def test_stock_is_used_missing_or_left_and_nothing_else(stock, children, chance):
    demand = repeat(showing_up(1, chance), children)
    used = stock - expected_left(demand, stock)
    assert used + beyond(demand, stock).mean == pytest.approx(demand.mean)


@given(st.floats(0.5, 0.999), st.integers(1, 200), st.floats(0.1, 0.9))
def test_quantile_is_the_smallest_count_that_is_enough(level, children, chance):
    demand = repeat(showing_up(1, chance), children)
    count = demand.quantile(level)
    assert demand.at_most(count) >= level - 1e-9
    assert demand.at_most(count - 1) < level


def test_many_sessions_stay_small():
    year = repeat(repeat(showing_up(2, 0.9), 40), 250)
    assert year.mean == pytest.approx(2 * 0.9 * 40 * 250)
    assert len(year.shares) < 2500


def test_from_shares_keeps_gaps():
    assert from_shares({2: 0.5, 4: 0.5}) == Distribution(2, (0.5, 0.0, 0.5))
