"""How long a child is watched after the last dose: the rulebook's row for this age."""

from __future__ import annotations

from datetime import date

from traywise.calendar import reached
from traywise.rulebook.visit import watches


def watch_minutes(born: date, on: date) -> int:
    """Minutes; the longest of the rows that hold at this age."""
    return max(
        row.minutes
        for row in watches()
        if (row.age_from is None or reached(born, row.age_from, on))
        and (row.age_before is None or not reached(born, row.age_before, on))
    )
