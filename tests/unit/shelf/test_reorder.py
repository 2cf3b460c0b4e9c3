"""Stock formulas against worked examples in print."""

from __future__ import annotations

import pytest

from traywise.rulebook.stock import indicative_wastage
from traywise.shelf.reorder import (
    StockLevels,
    doses_needed,
    national_wastage,
    order_doses,
    stock_levels,
    wastage_factor,
    wastage_rate,
    whole_vials,
)


# BMC Public Health 2020, 12889-020-08637-1, Table 1.
@pytest.mark.parametrize(
    ("given", "issued", "rate", "factor"),
    [(6043, 8595, 0.297, 1.422), (4741, 5931, 0.201, 1.251)],
)
def test_wastage_of_two_districts(given, issued, rate, factor):
    assert round(wastage_rate(given, issued), 3) == rate
    assert round(wastage_factor(wastage_rate(given, issued)), 3) == factor


# Factors as printed: Indian training text 1.33, Ethiopian module 1.43; MSF 1.17 cuts 1.176.
@pytest.mark.parametrize(
    ("rate", "factor"), [(0.10, 1.11), (0.15, 1.18), (0.25, 1.33), (0.30, 1.43), (0.5, 2.0)]
)
def test_wastage_factors(rate, factor):
    assert round(wastage_factor(rate), 2) == factor


def test_minimum_maximum_and_order_level_of_the_national_module():
    # Ethiopia, Immunization Module, study session 5: 80 doses in two weeks, lead 2 days.
    assert stock_levels(80, 14, 2) == StockLevels(minimum=20, maximum=100, reorder_at=32)
    # The module's "working days": a period of 10 gives 36.
    assert stock_levels(80, 10, 2).reorder_at == 36


def test_an_order_fills_to_the_maximum_in_whole_vials():
    levels = stock_levels(80, 14, 2)
    assert order_doses(levels, in_hand=33) == 0
    assert order_doses(levels, in_hand=32) == 68
    assert order_doses(levels, in_hand=32, on_order=1) == 0
    assert order_doses(levels, in_hand=10, on_order=20, vial_doses=10) == 70


def test_measles_campaign_need():
    # MSF, Management of a measles epidemic: 20 000 x 1.17 = 23 400; with 25 % buffer 29 250
    # (printed as 29 500).
    rate = 1 - 1 / 1.17
    assert round(doses_needed(50_000, 0.40, 1, rate)) == 23_400
    assert round(doses_needed(50_000, 0.40, 1, rate, 0.25)) == 29_250


# India, exercises on immunization logistics, 2014: monthly vials at factor 1.33.
@pytest.mark.parametrize(
    ("doses", "vial", "vials"), [(34, 10, 5), (32, 20, 3), (16, 10, 3), (24, 10, 4)]
)
def test_monthly_vials_of_the_logistics_exercises(doses, vial, vials):
    assert whole_vials(doses * 1.33, vial) == vials


def test_the_older_national_formula():
    # WHO concept note 2019; the figures are computed from it.
    assert round(national_wastage(0.01, 3, 0.25), 4) == 0.2723


# WHO, projected vaccine wastage, indicative maximum rates.
@pytest.mark.parametrize(
    ("doses", "powder", "share"),
    [(1, True, 0.05), (2, False, 0.1), (6, True, 0.1), (10, False, 0.25), (20, True, 0.5)],
)
def test_indicative_rates(doses, powder, share):
    figure = indicative_wastage(doses, powder=powder)
    assert figure is not None
    assert figure.share == share


def test_no_rate_is_invented_for_a_vial_beyond_the_table():
    assert indicative_wastage(50, powder=False) is None


@pytest.mark.parametrize("bad", [(5, 0), (6, 5), (-1, 5)])
def test_impossible_counts_are_refused(bad):
    with pytest.raises(ValueError, match="issued"):
        wastage_rate(*bad)
