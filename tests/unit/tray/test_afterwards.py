"""What comes next is told as it stands once today's doses are given, not before."""

from __future__ import annotations

from datetime import date

from tests.schedule_words import child

from traywise.record.child import Child
from traywise.shelf.lot import Lot
from traywise.tray.compose import Visit, compose_tray

ON = date(2024, 6, 1)


def lot(cvx: str, presentation: str) -> Lot:
    return Lot(
        lot=f"L{cvx}",
        cvx=cvx,
        presentation=presentation,
        doses=5,
        expires=date(2030, 1, 1),
    )


def visit(record: Child, *lots: Lot) -> Visit:
    return compose_tray(record, ON, lots)


def test_the_next_dose_of_a_group_given_today_is_told() -> None:
    """2 y: MMR-1 today; MMR-2 at 4 years (10 Jan 2026), from 28 days on (29 Jun 2024)."""
    record = child(date(2022, 1, 10))
    after = visit(record, lot("03", "vial+diluent")).tray.afterwards["MMR"]
    assert after.next_dose == 2
    assert after.earliest == date(2024, 6, 29)
    assert after.due == date(2026, 1, 10)


def test_a_live_vaccine_given_today_moves_the_other_that_is_not() -> None:
    """ACIP, Timing and Spacing: VAR is not at hand, MMR is given: VAR 28 days later."""
    record = child(date(2022, 1, 10))
    after = visit(record, lot("03", "vial+diluent")).tray.afterwards["VAR"]
    assert after.due == date(2024, 6, 29)
    assert after.status == "not yet"


def test_what_todays_dose_makes_needless_is_not_talked_over() -> None:
    """Asplenia, four PCV13: PCV20 or PPSV23; with PCV20 on the tray PPSV23 is not asked for."""
    given = [(date(2022, month, 1), "133") for month in (5, 7, 9)] + [(date(2023, 3, 1), "133")]
    record = child(date(2022, 3, 1), given, conditions=["asplenia"])
    with_it = visit(record, lot("216", "prefilled")).tray
    assert "PCV" in {group for place in with_it.tray for group in place.groups}
    assert "PPSV" not in {item.group for item in with_it.not_today}
    without = visit(record).tray
    assert "PPSV" in {item.group for item in without.not_today}


def test_an_empty_tray_tells_nothing_of_its_own() -> None:
    assert visit(child(date(2022, 1, 10))).tray.afterwards == {}
