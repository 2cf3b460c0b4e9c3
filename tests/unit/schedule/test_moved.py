"""What moved a due day is named with its day, and nothing is said where nothing moved it.

Dates by hand; rules: ACIP General Best Practice Guidelines, Timing and Spacing (28 days between
live vaccines; an early dose is repeated after the minimum interval), Table 3-6 (packed red cells
hold MMR back for 6 months).
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from traywise.record.child import Child, Condition, CvxCode, DoseGiven, ProductReceived
from traywise.schedule.assess import assess

EARLY = "which came too early"


def why(group: str, born: str, on: str, *doses: tuple[str, str], **more: Any) -> tuple[str, str]:
    """(due day, reason) of a group."""
    child = Child(
        id="moved",
        born=date.fromisoformat(born),
        doses=tuple(DoseGiven(on=date.fromisoformat(day), cvx=CvxCode(cvx)) for day, cvx in doses),
        **more,
    )
    forecast = assess(child, "us-2025", date.fromisoformat(on)).groups[group]
    return str(forecast.due), forecast.why


def red_cells(day: str) -> dict[str, Any]:
    return {"products": (ProductReceived(on=date.fromisoformat(day), kind="packed-red-cells"),)}


def test_two_rows_that_offer_different_days_move_nothing():
    """Hib with asplenia, dose 1 at 11 months: no live vaccine, no early dose, no antibody."""
    due, text = why(
        "Hib",
        "2024-01-10",
        "2024-12-20",
        ("2024-12-15", "48"),
        conditions=(Condition(key="asplenia"),),
    )
    assert due != "None"
    assert "Not before" not in text
    assert "Moved" not in text


MOVED = [
    # MMR at 1 Feb 2024: varicella vaccine waits until 29 Feb (28 days).
    (
        ("VAR", "2023-01-20", "2024-02-10", ("2024-02-01", "03")),
        {},
        "2024-02-29",
        "Not before 2024-02-29: 28 days after the live vaccine of 2024-02-01.",
    ),
    # Packed red cells on 5 Dec 2023: MMR 6 months later, 5 Jun 2024.
    (
        ("MMR", "2023-01-20", "2024-02-10"),
        red_cells("2023-12-05"),
        "2024-06-05",
        "Not before 2024-06-05: antibody product of 2023-12-05.",
    ),
    # MMR 5 days before the first birthday: repeat 28 days after it, 15 Jan + 28 = 12 Feb.
    (
        ("MMR", "2023-01-20", "2024-01-25", ("2024-01-15", "03")),
        {},
        "2024-02-12",
        "Not before 2024-02-12: 28 days after the live dose of 2024-01-15, which did not count.",
    ),
    # HepA 6 months less 5 days after dose 1: planned again 6 months after it, 26 Jul + 6 = 26 Jan.
    (
        ("HepA", "2023-01-20", "2024-08-01", ("2024-01-31", "83"), ("2024-07-26", "83")),
        {},
        "2025-01-26",
        f"Not before 2025-01-26: counted from the dose of 2024-07-26, {EARLY}.",
    ),
]


@pytest.mark.parametrize(("asked", "more", "due", "sentence"), MOVED)
def test_what_moved_the_day_is_named(asked: Any, more: Any, due: str, sentence: str):
    came, text = why(*asked, **more)
    assert came == due
    assert sentence in text


NOT_MOVED = [
    # MMR a month before the first birthday of varicella: 28 days are over on the birthday itself.
    (("VAR", "2023-01-20", "2024-02-10"), {}),
    # Red cells so long ago that the 6 months end on the first birthday.
    (("MMR", "2023-01-20", "2024-02-10"), red_cells("2023-07-20")),
    # 6 months less 4 days: counts.
    (("HepA", "2023-01-20", "2024-08-01", ("2024-01-31", "83"), ("2024-07-27", "83")), {}),
    # Dose 2 of MMR is due at 4 years, long after the 28 days that an early one asks for.
    (("MMR", "2022-01-20", "2024-02-10", ("2023-01-20", "03"), ("2023-02-01", "03")), {}),
]


@pytest.mark.parametrize(("asked", "more"), NOT_MOVED)
def test_nothing_is_said_where_the_row_alone_gives_the_day(asked: Any, more: Any):
    _, text = why(*asked, **more)
    assert "Not before" not in text


def test_two_reasons_for_one_day_name_one():
    """Red cells and a live vaccine that end on the same day: one sentence."""
    _, text = why(
        "MMR", "2023-01-20", "2024-05-20", ("2024-05-08", "111"), **red_cells("2023-12-05")
    )
    assert text.count("Not before 2024-06-05") == 1
