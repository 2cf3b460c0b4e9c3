"""Which syringe holds the dose: by policy, route, presentation and volume."""

from __future__ import annotations

from traywise.equipment.place import DoseToPlace
from traywise.equipment.policy import policy_chain
from traywise.equipment.tables import SyringeRow, syringe_rows


def choose_syringe(dose: DoseToPlace, route: str, policy: str) -> SyringeRow:
    """The first fitting row; its sizes stand in order of preference, none for ready-filled.

    Rows without a policy hold for all; rows of a policy only under it.
    """
    chain = tuple(listed.head.key for listed in policy_chain(policy))
    return next(row for row in syringe_rows() if _fits(row, dose, route, chain))


def _fits(row: SyringeRow, dose: DoseToPlace, route: str, chain: tuple[str, ...]) -> bool:
    return (
        (not row.policy or row.policy in chain)
        and (not row.routes or route in row.routes)
        and (not row.presentations or dose.presentation in row.presentations)
        and (row.up_to_ml is None or dose.volume_ml <= row.up_to_ml)
        and (not row.exact or dose.volume_ml in row.sizes_ml)
    )


def size_text(size_ml: float) -> str:
    """A syringe size in words: "1 mL"."""
    return f"{size_ml:g} mL"


def usable_sizes(row: SyringeRow, volume_ml: float) -> tuple[float, ...]:
    """The sizes of the row that hold the volume, in order of preference."""
    if row.exact:
        return (volume_ml,)
    return tuple(size for size in row.sizes_ml if size >= volume_ml)
