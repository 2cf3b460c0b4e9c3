"""Joins a record that came in with the one we keep; never drops what is known."""

from __future__ import annotations

from typing import Any

import msgspec

from traywise.record.child import Child, DoseGiven

MEASURES = (
    "name",
    "sex",
    "gestation_weeks",
    "birth_weight_g",
    "weight_kg",
    "weighed_on",
    "height_cm",
)


def merge_children(kept: Child, came: Child) -> Child:
    """What came wins where it says something; doses, conditions and products are united."""
    changes: dict[str, Any] = {
        name: value for name in MEASURES if (value := getattr(came, name)) is not None
    }
    return msgspec.structs.replace(
        kept,
        **changes,
        doses=_unite_doses(kept.doses, came.doses),
        conditions=_unite(kept.conditions, came.conditions),
        products=_unite(kept.products, came.products),
        avoid=_unite(kept.avoid, came.avoid),
        answers={**kept.answers, **came.answers},
    )


def _unite(first: tuple[Any, ...], second: tuple[Any, ...]) -> tuple[Any, ...]:
    return first + tuple(item for item in second if item not in first)


def _unite_doses(
    first: tuple[DoseGiven, ...], second: tuple[DoseGiven, ...]
) -> tuple[DoseGiven, ...]:
    """Same day and same code is the same dose; the entry that knows more stays."""
    known = {(dose.on, dose.cvx) for dose in first}
    return first + tuple(dose for dose in second if (dose.on, dose.cvx) not in known)
