"""By which route a dose goes: the product's first, unless the child gives a reason."""

from __future__ import annotations

from traywise.equipment.body import Body
from traywise.equipment.tables import rules
from traywise.rulebook.vaccines import Vaccine

NOT_INJECTED = ("PO", "NAS")


def choose_route(vaccine: Vaccine, body: Body) -> tuple[str, str]:
    """Route key and, where it is not the product's first, why."""
    first = vaccine.routes[0]
    if first == "IM" and body.bleeds and "SC" in vaccine.routes:
        return "SC", "bleeding disorder: this product may go under the skin instead"
    return first, ""


def bleeding_gauge(route: str, body: Body) -> int | None:
    """The widest gauge number allowed for a child who bleeds; None: no limit."""
    if route in ("IM", "SC") and body.bleeds:
        return rules()["bleeding-gauge"].value
    return None
