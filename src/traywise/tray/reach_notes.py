"""The second opinion on the needles of a tray: one note for each site and length."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from traywise.calendar import age_on
from traywise.equipment.reach.answer import SITES
from traywise.equipment.reach.compare import second_opinion
from traywise.record.child import Child
from traywise.tray.plan import Place, ReachNote

_SITE_OF = {"LT": "thigh", "RT": "thigh", "LD": "deltoid", "RD": "deltoid"}
_DAYS_A_MONTH = 365.25 / 12


def reach_notes(child: Child, on: date, places: Sequence[Place]) -> tuple[ReachNote, ...]:
    """Notes for the injections into muscle; silent where no child of this age was measured."""
    wanted: dict[tuple[str, int], list[int]] = {}
    for place in places:
        site = _SITE_OF.get(place.site or "")
        if place.route == "IM" and site in SITES and place.needle is not None:
            wanted.setdefault((site, place.needle.length_mm), []).append(place.n)
    age_months = age_on(child.born, on).total_days / _DAYS_A_MONTH
    notes = []
    for (site, length_mm), numbers in wanted.items():
        opinion = second_opinion(length_mm, site, age_months, child.weight_kg)
        if opinion.answer.evidence != "none":
            notes.append(
                ReachNote(
                    site=site,
                    length_mm=length_mm,
                    places=tuple(numbers),
                    differs=opinion.differs,
                    text=opinion.text,
                    brief=opinion.brief,
                    trials=opinion.trials,
                    source=opinion.answer.source,
                )
            )
    return tuple(notes)
