"""An entry's body as lines a reader understands: name and value, in a fixed order."""

from __future__ import annotations

from typing import Any

from traywise.paper.wording import needle_words, volume_words
from traywise.rulebook.codes import route_codes, site_codes
from traywise.tray.plan import Needle

NAMES = {
    "name": "product",
    "cvx": "CVX code",
    "on": "given on",
    "at": "at",
    "lot": "lot",
    "expires": "use by",
    "funding": "funding",
    "route": "route",
    "site": "site",
    "site_text": "where",
    "volume_ml": "dose",
    "full": "whole dose",
    "needle": "needle",
    "dose_numbers": "dose of the series",
    "place": "place on the tray",
    "passed": "stops passed",
    "reason": "reason",
    "back_on_shelf": "back on the shelf",
    "what": "what was seen",
    "done": "what was done",
    "seen_at": "seen at",
}


def lines_of(body: dict[str, Any]) -> list[tuple[str, str]]:
    """Name and value of what the body says; what is unknown is left out.

    >>> lines_of({"volume_ml": 0.5, "dose_numbers": {"RV": 2}, "mvx": None})
    [('dose', '0.5 mL'), ('dose of the series', 'RV 2')]
    """
    return [
        (words, _value(name, body[name]))
        for name, words in NAMES.items()
        if body.get(name) not in (None, "", [], {})
    ]


def _value(name: str, value: Any) -> str:
    if name == "volume_ml":
        return volume_words(value)
    if name == "needle":
        return needle_words(Needle(**value))
    if name == "dose_numbers":
        return ", ".join(f"{group} {number}" for group, number in value.items())
    if name == "passed":
        return " ".join(f"{stop['text']} ({stop['code']})" for stop in value)
    if name == "at":
        return str(value)[11:16]
    if name == "route" and value in route_codes():
        return route_codes()[value].name
    if name == "site" and value in site_codes():
        return f"{site_codes()[value].name} ({value})"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
