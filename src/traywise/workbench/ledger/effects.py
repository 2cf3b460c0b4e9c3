"""What the ledger adds up to: doses given with their corrections applied."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import msgspec

from traywise.record.child import DoseGiven
from traywise.workbench.ledger.models import CORRECTED, GIVEN, LedgerEntry


class GivenDose(msgspec.Struct, frozen=True, kw_only=True):
    """A dose as it stands today: the entry that recorded it and its body after corrections."""

    entry: Any
    body: dict[str, Any]
    corrections: tuple[Any, ...] = ()
    undone: bool = False

    def as_dose(self) -> DoseGiven:
        """The dose as the record would hold it."""
        fields = {name: self.body.get(name) for name in DoseGiven.__struct_fields__}
        return msgspec.convert({k: v for k, v in fields.items() if v is not None}, DoseGiven)


def standing_doses(entries: Iterable[LedgerEntry]) -> list[GivenDose]:
    """Doses of the entries in order; an undone one is kept and marked."""
    entries = sorted(entries, key=lambda entry: int(entry.number))
    corrections: dict[int, list[LedgerEntry]] = {}
    for entry in entries:
        if entry.kind == CORRECTED and entry.corrects_id is not None:
            corrections.setdefault(entry.corrects_id, []).append(entry)
    return [
        _apply(entry, corrections.get(entry.pk, ())) for entry in entries if entry.kind == GIVEN
    ]


def _apply(entry: LedgerEntry, corrections: Sequence[LedgerEntry]) -> GivenDose:
    body, undone = dict(entry.body), False
    for correction in corrections:
        body |= correction.body.get("fields", {})
        undone = undone or bool(correction.body.get("undone"))
    return GivenDose(entry=entry, body=body, corrections=tuple(corrections), undone=undone)


def doses_given_here(entries: Iterable[LedgerEntry]) -> tuple[DoseGiven, ...]:
    """What the history gains from the ledger."""
    return tuple(dose.as_dose() for dose in standing_doses(entries) if not dose.undone)
