"""The order of giving: by mouth first, then the nose, then injections from least to most sore."""

from __future__ import annotations

from collections.abc import Sequence

from traywise.equipment.place import DoseToPlace
from traywise.equipment.tables import GroupRow, first_rows, last_rows

_STAGE = {"PO": 0, "NAS": 1}


def giving_key(dose: DoseToPlace, route: str, part: int = 1) -> tuple[object, ...]:
    """Sort key of one injection or oral or nasal dose; the same for any order of entry."""
    groups = dose.groups or dose.vaccine.groups
    return (
        _STAGE.get(route, 2),
        not _rank(groups, first_rows()),
        dose.vaccine.soreness,
        _rank(groups, last_rows()),
        dose.volume_ml,
        dose.vaccine.key,
        dose.lot or "",
        part,
    )


def _rank(groups: Sequence[str], rows: Sequence[GroupRow]) -> int:
    """0 where no row names one of the groups, else the place of the last row that does."""
    return max((n for n, row in enumerate(rows, start=1) if row.group in groups), default=0)
