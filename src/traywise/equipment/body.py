"""What the equipment room needs to know of the child on the day: age, weight, limbs, flags."""

from __future__ import annotations

from datetime import date

import msgspec

from traywise.calendar import Span, reached
from traywise.equipment.tables import rules
from traywise.record.child import Child
from traywise.rulebook.codes import site_codes

LIMBS = ("LT", "RT", "LA", "RA")
SIDE_OF_LIMB = {"LT": "left", "LA": "left", "RT": "right", "RA": "right"}


class Body(msgspec.Struct, frozen=True, kw_only=True):
    """The body on a day. None is unknown; ``deltoid``: small, adequate, adult-size or None."""

    born: date
    on: date
    sex: str | None
    weight_kg: float | None
    born_weeks: int | None
    preterm: bool  # by condition, where the weeks are not recorded
    avoid: frozenset[str]
    deltoid: str | None
    conditions: frozenset[str]
    cautions: tuple[str, ...] = ()

    def in_age(self, age_from: Span | None, age_before: Span | None) -> bool:
        """Whether the age on the day lies in the window, its first day included."""
        return (age_from is None or reached(self.born, age_from, self.on)) and (
            age_before is None or not reached(self.born, age_before, self.on)
        )

    def born_before(self, weeks: int) -> bool | None:
        """Whether born before so many completed weeks; None where nothing is recorded."""
        if self.born_weeks is not None:
            return self.born_weeks < weeks
        return True if self.preterm else None

    @property
    def bleeds(self) -> bool:
        return bool(self.conditions & {"bleeding-disorder", "anticoagulant"})


def read_body(child: Child, on: date) -> Body:
    """The body of ``child`` on the day ``on``, with cautions for what is doubtful in it."""
    conditions = child.conditions_on(on)
    cautions: list[str] = []
    avoid = set()
    for code in child.avoid:
        known = site_codes().get(code)
        if known is None or known.limb not in LIMBS:
            cautions.append(
                f'"{code}" under limbs to avoid is not a limb: write LT, RT, LA or RA. '
                "Nothing is kept free for it."
            )
        else:
            avoid.add(known.limb)
    return Body(
        born=child.born,
        on=on,
        sex=child.sex if child.sex in ("F", "M") else None,
        weight_kg=_weight(child, on, cautions),
        born_weeks=child.gestation_weeks,
        preterm="preterm" in conditions,
        avoid=frozenset(avoid),
        deltoid=_deltoid(conditions),
        conditions=conditions,
        cautions=tuple(cautions),
    )


def _weight(child: Child, on: date, cautions: list[str]) -> float | None:
    if child.weight_kg is None or child.weighed_on is None:
        return child.weight_kg
    if child.weighed_on > on:
        cautions.append(f"The weight is dated {child.weighed_on}, after this day: left aside.")
        return None
    if (on - child.weighed_on).days > rules()["weight-old-days"].value:
        cautions.append(
            f"The weight of {child.weight_kg:g} kg is from {child.weighed_on}: weigh again."
        )
    return child.weight_kg


def _deltoid(conditions: frozenset[str]) -> str | None:
    if "deltoid-muscle-small" in conditions:
        return "small"
    if "deltoid-muscle-adult-size" in conditions:
        return "adult-size"
    return "adequate" if "deltoid-muscle-adequate" in conditions else None
