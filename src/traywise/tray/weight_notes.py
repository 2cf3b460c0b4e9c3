"""What is to be said of the weight on a tray: a likely slip, or what its lack leaves open."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from traywise.calendar import age_on
from traywise.equipment.place import PlaceEquipment
from traywise.equipment.reach.answer import SITES
from traywise.equipment.weight import check_weight, weight_would_move
from traywise.record.child import Child

_DAYS_A_MONTH = 365.25 / 12


def doubtful_weight(child: Child, on: date) -> str | None:
    """The recorded weight as a question, where a slip or nothing common would explain it.

    The age is that of the weighing. Nothing is corrected: doses, needles and the emergency
    dose on the tray follow the weight as recorded.
    """
    if child.weight_kg is None:
        return None
    weighed = child.weighed_on if child.weighed_on and child.weighed_on <= on else on
    if weighed < child.born:
        return None
    days = age_on(child.born, weighed).total_days
    check = check_weight(child.weight_kg, days, child.sex, gestation_weeks=child.gestation_weeks)
    if check.fault is None:
        return None
    return f"Weight in doubt: {check.text} What this tray says by weight follows it as it stands."


def missing_weight(child: Child, on: date, places: Sequence[PlaceEquipment]) -> Iterator[str]:
    """What a weight would change in the reach of the needles laid; silent where nothing is known.

    One sentence for each site and length.
    """
    if child.weight_kg is not None:
        return
    age_months = age_on(child.born, on).total_days / _DAYS_A_MONTH
    asked = dict.fromkeys(
        (place.site_key, place.needle.length_mm, place.angle_deg or 90)
        for place in places
        if place.route == "IM" and place.site_key in SITES and place.needle is not None
    )
    for site, length_mm, angle_deg in asked:
        said = weight_would_move(site, age_months, length_mm, angle_deg)
        if said is not None:
            yield f"{said} The table's length stands."
