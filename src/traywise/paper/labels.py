"""A label for every syringe of a tray, as data: what the label prints and its code.

Comes in: a child, the places of a tray, GTINs by lot where the shelf knows them. Goes out: one
``Label`` a syringe. What must be written by hand (time drawn, initials) stays an empty line.
What a label says: administration of vaccines, drawing up ahead (docs/labels.md names sources).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from traywise.paper.facts import keeping_words, needle_on_place
from traywise.paper.label_code import LabelCode
from traywise.paper.wording import day, dose_words, plain, site_words, volume_words
from traywise.record.child import Child
from traywise.tray.plan import Place


class Label(msgspec.Struct, frozen=True, kw_only=True):
    """One label, all words ready. ``use_by``: how long the dose keeps."""

    n: int
    vaccine: str
    dose: str
    lot: str
    expires: str
    site: str
    route: str
    needle: str
    child_name: str
    child_id: str
    born: str
    use_by: str
    not_for_injection: bool
    groups: str
    code: LabelCode


def labels_for(
    child: Child, places: Sequence[Place], gtins: Mapping[str, str] | None = None
) -> tuple[Label, ...]:
    """One label a place, in the order of giving.

    gtins  lot -> GTIN where the shelf knows it; only then is the code a GS1 element string
    """
    return tuple(_label(child, place, (gtins or {}).get(place.lot or "")) for place in places)


def _label(child: Child, place: Place, gtin: str | None) -> Label:
    where = site_words(place.site, place.route)
    code = LabelCode(
        child=child.id,
        place=place.n,
        cvx=place.cvx,
        lot=place.lot,
        expires=place.expires,
        gtin=gtin,
    )
    return Label(
        n=place.n,
        vaccine=plain(place.name),
        dose=volume_words(place.volume_ml),
        lot=plain(place.lot) if place.lot else "",
        expires=day(place.expires) if place.expires else "",
        site=f"{where}, {place.position}" if place.position else where,
        route=place.route,
        needle=needle_on_place(place),
        child_name=plain(child.name) if child.name else "",
        child_id=plain(child.id),
        born=child.born.isoformat(),
        use_by=_use_by(place),
        not_for_injection=place.route in ("PO", "NAS"),
        groups=dose_words(place.dose_numbers, place.groups),
        code=code,
    )


def _use_by(place: Place) -> str:
    """How long the dose keeps once mixed.

    Nothing is promised where the tray does not know: the leaflet says it.
    """
    if place.use_within_minutes is None:
        return "see leaflet"
    return keeping_words(place.use_within_minutes)
