"""How long to watch is said once, at every age. CDC, giving vaccines: after giving, 15 minutes."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from traywise.calendar import Span, add
from traywise.record.child import Child
from traywise.rulebook.vaccines import vaccines
from traywise.shelf.lot import Lot
from traywise.tray.compose import compose_tray

BORN = date(2012, 3, 4)
ELEVEN = add(BORN, Span(months=132))


def shelf() -> list[Lot]:
    """A lot of every product there is."""
    return [
        Lot(
            lot=f"W{n}",
            cvx=one.cvx[0],
            vaccine=one.key,
            presentation=one.presentations[0],
            doses=5,
            expires=date(2040, 1, 31),
        )
        for n, one in enumerate(vaccines().values())
    ]


@pytest.mark.parametrize(
    ("on", "answers"),
    [
        (add(BORN, Span(months=2)), {}),
        (ELEVEN - timedelta(days=1), {}),
        (ELEVEN, {}),
        (add(BORN, Span(months=180)), {"fainting": "fainted"}),
        (add(BORN, Span(months=60)), {"fainting": "anxious"}),
    ],
)
def test_watching_is_said_once(on: date, answers: dict[str, str]) -> None:
    child = Child(id="w", born=BORN, weight_kg=20.0, answers=answers)
    visit = compose_tray(child, on, shelf())
    assert visit.tray.tray
    assert sum("15 minutes after" in text or "for 15" in text for text in visit.tray.cautions) == 1
