"""Body map, needles and reach as pictures of the paper room, ready for a page."""

from __future__ import annotations

from django.utils.safestring import SafeString, mark_safe

from traywise.calendar import Age
from traywise.paper.body_map import Mark, body_map_svg
from traywise.paper.figures import figure_for
from traywise.paper.needle_drawing import needle_svg
from traywise.record.child import Child
from traywise.tray.plan import Place, Tray


def body_map(tray: Tray, age: Age, child: Child) -> SafeString:
    """All places on the child's figure. The paper room escapes every text it draws."""
    marks = [Mark(place.n, place.site, place.position, place.route) for place in tray.tray]
    return mark_safe(body_map_svg(figure_for(age), marks, avoid=child.avoid))  # noqa: S308


def needle_of(place: Place) -> SafeString:
    """What lies in the hand, to scale."""
    return mark_safe(  # noqa: S308
        needle_svg(place.needle, place.syringe, route=place.route, missing=place.needle_missing)
    )
