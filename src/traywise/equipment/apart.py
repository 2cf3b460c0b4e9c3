"""Which two injections belong in different limbs, and by which row."""

from __future__ import annotations

from traywise.equipment.place import DoseToPlace
from traywise.equipment.tables import PairRow, pair_rows


def groups_of(dose: DoseToPlace) -> frozenset[str]:
    """The groups that a dose serves today and all that its product holds."""
    return frozenset((*dose.groups, *dose.vaccine.groups))


def are_kept_apart(one: DoseToPlace, other: DoseToPlace) -> bool:
    """Whether the two need separate limbs: an antibody and a vaccine against one disease."""
    return any(
        antibody.vaccine.globulin
        and bool(antibody.vaccine.against)
        and not vaccine.vaccine.globulin
        and antibody.vaccine.against in groups_of(vaccine)
        for antibody, vaccine in ((one, other), (other, one))
    )


def sore_pair(one: DoseToPlace, other: DoseToPlace) -> PairRow | None:
    """The row that names the two as a pair for different limbs."""
    a, b = groups_of(one), groups_of(other)
    return next(
        (
            row
            for row in pair_rows()
            if (row.one in a and row.other in b) or (row.other in a and row.one in b)
        ),
        None,
    )
