"""Joins a record that came in with the one we keep; never drops what is known."""

from __future__ import annotations

from typing import Any

import msgspec

from traywise.record.child import Child, Condition, DoseGiven

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
    """What came wins where it says something; doses, conditions, products are united."""
    changes: dict[str, Any] = {
        name: value for name in MEASURES if (value := getattr(came, name)) is not None
    }
    return msgspec.structs.replace(
        kept,
        **changes,
        doses=_unite_doses(kept.doses, came.doses),
        conditions=_unite_conditions(kept.conditions, came.conditions),
        products=_unite(kept.products, came.products),
        avoid=_unite(kept.avoid, came.avoid),
        answers={**kept.answers, **came.answers},
    )


def _unite(first: tuple[Any, ...], second: tuple[Any, ...]) -> tuple[Any, ...]:
    return first + tuple(item for item in second if item not in first)


def _unite_conditions(
    first: tuple[Condition, ...], second: tuple[Condition, ...]
) -> tuple[Condition, ...]:
    """One entry for each time a condition held: a day that only one of the two knows is added.

    Kept beside each other, the entry without days would hold for ever and hide the dated one.
    """
    found = list(first)
    for came in second:
        for number, kept in enumerate(found):
            joined = Condition(
                key=kept.key, since=kept.since or came.since, until=kept.until or came.until
            )
            if kept.key == came.key and _same_time(kept, came, joined):
                found[number] = joined
                break
        else:
            found.append(came)
    return tuple(found)


def _same_time(kept: Condition, came: Condition, joined: Condition) -> bool:
    """Whether no day of one speaks against a day of the other."""
    if joined.since and joined.until and joined.until < joined.since:
        return False
    return came.since in (None, joined.since) and came.until in (None, joined.until)


def _unite_doses(
    first: tuple[DoseGiven, ...], second: tuple[DoseGiven, ...]
) -> tuple[DoseGiven, ...]:
    """Same day and same code is the same dose; the entry that knows more stays."""
    known = {(dose.on, dose.cvx) for dose in first}
    return first + tuple(dose for dose in second if (dose.on, dose.cvx) not in known)
