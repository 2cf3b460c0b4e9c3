"""Wastage, minimum, maximum and reorder point: the published stock formulas, in doses.

Doses are counted, not vials; only an order is rounded up to whole vials.
"""

from __future__ import annotations

from math import ceil, sqrt

import msgspec

from traywise.rulebook.stock import stock_share


def wastage_rate(given: float, issued: float) -> float:
    """Share of the issued doses that was not given.

    source  WHO definition; worked example: BMC Public Health 2020, 12889-020-08637-1, Table 1

    >>> round(wastage_rate(6043, 8595), 3)
    0.297
    """
    if issued <= 0 or not 0 <= given <= issued:
        raise ValueError("Doses issued must be above 0, and doses given between 0 and issued.")
    return 1 - given / issued


def wastage_factor(rate: float) -> float:
    """Doses to supply for each dose to give.

    >>> round(wastage_factor(0.25), 2)
    1.33
    """
    if not 0 <= rate < 1:
        raise ValueError("A wastage rate lies between 0 and below 1.")
    return 1 / (1 - rate)


def national_wastage(closed: float, levels: int, opened: float) -> float:
    """Overall rate from the loss of closed vials at each store level and of opened vials.

    source  WHO, revising global indicative wastage rates, concept note, 2019 (older formula)

    >>> round(national_wastage(0.01, 3, 0.25), 4)
    0.2723
    """
    return 1 - (1 - closed) ** levels * (1 - opened)


class StockLevels(msgspec.Struct, frozen=True, kw_only=True):
    """Levels of one product in doses, rounded up to whole doses."""

    minimum: int
    maximum: int
    reorder_at: int


def stock_levels(
    period_need: float, period_days: float, lead_days: float, minimum_share: float | None = None
) -> StockLevels:
    """Minimum, maximum and the level at which to order.

    period_need    doses needed in one supply period, wastage included
    period_days    days from one delivery to the next
    lead_days      days from order to delivery
    minimum_share  share of the period's need; None: the table's
    source         national training module (Ethiopia), study session 5

    >>> stock_levels(80, 14, 2)
    StockLevels(minimum=20, maximum=100, reorder_at=32)
    """
    if period_need < 0 or period_days <= 0 or lead_days < 0:
        raise ValueError("Need and lead time cannot be negative; the period must be above 0 days.")
    share = stock_share("minimum").share if minimum_share is None else minimum_share
    minimum = period_need * share
    return StockLevels(
        minimum=_up(minimum),
        maximum=_up(period_need + minimum),
        reorder_at=_up(period_need * lead_days / period_days + minimum),
    )


def order_doses(levels: StockLevels, in_hand: int, on_order: int = 0, vial_doses: int = 1) -> int:
    """Doses to order now, in whole vials; 0 above the reorder level. Order-up-to: from memory.

    >>> order_doses(StockLevels(minimum=20, maximum=100, reorder_at=32), in_hand=32, vial_doses=10)
    70
    """
    if in_hand + on_order > levels.reorder_at:
        return 0
    return whole_vials(max(0, levels.maximum - in_hand - on_order), vial_doses) * vial_doses


def doses_needed(
    people: float, coverage: float, doses_each: float, rate: float, buffer: float = 0.0
) -> float:
    """Doses for a target population, wastage and buffer included.

    source  MSF, Management of a measles epidemic, section 6.2

    >>> round(doses_needed(50_000, 0.40, 1, 1 - 1 / 1.17, 0.25))
    29250
    """
    return people * coverage * doses_each * wastage_factor(rate) * (1 + buffer)


def whole_vials(doses: float, vial_doses: int) -> int:
    """Vials that hold so many doses.

    >>> whole_vials(45.2, 10), whole_vials(0, 10)
    (5, 0)
    """
    if vial_doses < 1:
        raise ValueError("A vial holds one dose at least.")
    return _up(doses / vial_doses)


def safety_stock(
    z: float, lead_days: float, daily_deviation: float, daily_use: float, lead_deviation: float
) -> float:
    """Statistical safety stock (standard inventory theory, from memory); reorder at d*L + this."""
    return z * sqrt(lead_days * daily_deviation**2 + daily_use**2 * lead_deviation**2)


def _up(number: float) -> int:
    # Rounding noise of a product such as 80 * 0.3 must not buy another dose.
    return ceil(round(number, 9))
