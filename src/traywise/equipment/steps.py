"""The steps and cautions of one place: the rows that fit, with the blanks filled in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from traywise.equipment.body import Body
from traywise.equipment.place import DoseToPlace
from traywise.equipment.policy import shipped_key
from traywise.equipment.tables import StepRow, step_rows


class StepText(msgspec.Struct, frozen=True, kw_only=True):
    """One filled-in step with its source."""

    stage: str
    text: str
    source: str
    needs: tuple[str, ...] = ()


def write_steps(
    dose: DoseToPlace,
    route: str,
    body: Body,
    policy: str,
    flags: frozenset[str],
    blanks: Mapping[str, str],
) -> tuple[StepText, ...]:
    """Steps and cautions of one place in the order they are done."""
    return tuple(
        StepText(
            stage=row.stage, text=row.text.format_map(blanks), source=row.source, needs=row.needs
        )
        for row in step_rows()
        if _applies(row, dose, route, body, policy, flags)
    )


def _applies(
    row: StepRow, dose: DoseToPlace, route: str, body: Body, policy: str, flags: frozenset[str]
) -> bool:
    groups = dose.groups or dose.vaccine.groups
    return (
        _names(row.policies, shipped_key(policy))
        and _names(row.routes, route)
        and _names(row.presentations, dose.presentation)
        and (not row.groups or bool(set(row.groups) & set(groups)))
        and body.in_age(row.age_from, row.age_before)
        and flags.issuperset(row.when)
        and flags.isdisjoint(row.unless)
    )


def _names(allowed: Sequence[str], value: str) -> bool:
    return not allowed or value in allowed


def is_mixed(dose: DoseToPlace) -> bool:
    """Whether this presentation is mixed with a diluent before use."""
    vaccine = dose.vaccine
    if vaccine.diluent is None:
        return False
    return dose.presentation == "vial+diluent" or (
        dose.presentation in ("multidose", "ampoule")
        and "vial+diluent" not in vaccine.presentations
    )


def minutes_text(minutes: int) -> str:
    """A keeping time as people say it.

    >>> minutes_text(30), minutes_text(480)
    ('30 minutes', '8 hours')
    """
    hours, rest = divmod(minutes, 60)
    if hours and not rest:
        return f"{hours} hour{'' if hours == 1 else 's'}"
    return f"{minutes} minutes"
