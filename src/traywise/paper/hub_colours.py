"""Colour of a needle's hub by gauge, from ``tables/hub-colours.toml`` (ISO 6009)."""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.rulebook.tables import load_table


class HubColour(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The colour word of the standard, our rendering of it, and the needle's outer diameter."""

    key: str
    gauge: int
    outer_mm: float
    colour: str
    paint: str
    source: str


@cache
def hub_colours() -> dict[int, HubColour]:
    """Hub colours by gauge; a gauge that is not here has no colour we know."""
    return {row.gauge: row for row in load_table("hub-colours", HubColour)}


def hub_words(gauge: int) -> str:
    """The hub's colour word, or that it is unknown.

    >>> hub_words(23), hub_words(33)
    ('deep blue hub', 'hub colour not in our table')
    """
    found = hub_colours().get(gauge)
    return f"{found.colour} hub" if found else "hub colour not in our table"
