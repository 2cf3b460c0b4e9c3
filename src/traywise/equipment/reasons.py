"""Why a place is what it is: short reasons, each with the sources it stands on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from traywise.equipment.apart import are_kept_apart, sore_pair
from traywise.equipment.body import Body
from traywise.equipment.place import Needle
from traywise.equipment.route import NOT_INJECTED
from traywise.equipment.site import choice_row
from traywise.equipment.spot import Spot
from traywise.equipment.tables import rules, sites


class Reason(msgspec.Struct, frozen=True, kw_only=True):
    """A reason in words ("" where a source is cited without one) and its sources."""

    text: str = ""
    sources: tuple[str, ...] = ()


def give_reasons(
    n: int, spots: Sequence[Spot], needle: Needle | None, body: Body, policy: str
) -> list[Reason]:
    """Reasons for route, site, needle, limb and order of spot ``n``, in that order."""
    spot = spots[n]
    found = [Reason(text=spot.route_why)] if spot.route_why else []
    found += _site(spot, body, policy)
    found += _needle(spot, needle, body)
    found += _limb(n, spots)
    found += _order(n, spots)
    return found


def _site(spot: Spot, body: Body, policy: str) -> Iterator[Reason]:
    row = choice_row(body, spot.route, policy)
    if spot.option is None or row is None:
        return
    yield Reason(text=row.why, sources=(row.source,))
    if spot.option.rank:
        first = sites()[row.sites[0]].name
        kept = f" (to be kept free: {', '.join(sorted(body.avoid))})" if body.avoid else ""
        yield Reason(text=f"alternate site, as the {first} has no room{kept}")


def _needle(spot: Spot, needle: Needle | None, body: Body) -> Iterator[Reason]:
    if spot.option is None:
        return
    row = spot.option.needles.row
    yield Reason(text=row.why, sources=(row.source, row.default_source))
    thick = rules()["thick-gauge"]
    if needle is not None and spot.what.vaccine.thick and needle.gauge <= thick.value:
        yield Reason(text=thick.text, sources=(thick.source,))
    if body.bleeds and spot.route in ("IM", "SC"):
        bleeding = rules()["bleeding-gauge"]
        yield Reason(text=bleeding.text, sources=(bleeding.source,))


def _limb(n: int, spots: Sequence[Spot]) -> Iterator[Reason]:
    """Which other injections were kept out of this limb, and by which rule."""
    spot = spots[n]
    for m, other in enumerate(spots):
        if m == n or spot.option is None or other.option is None:
            continue
        if spot.option.limb == other.option.limb:
            continue
        name = other.what.vaccine.name
        pair = sore_pair(spot.what, other.what)
        if are_kept_apart(spot.what, other.what):
            rule = rules()["antibody-apart"]
            yield Reason(text=f"not in the limb of {name}: {rule.text}", sources=(rule.source,))
        elif pair is not None:
            text = f"not in the limb of {name}: the two often leave a sore limb"
            yield Reason(text=text, sources=(pair.source,))


def _order(n: int, spots: Sequence[Spot]) -> Iterator[Reason]:
    if len(spots) == 1:
        return
    if spots[n].route in NOT_INJECTED:
        rule = rules()["oral-first"]
    elif n == len(spots) - 1:
        rule = rules()["sorest-last"]
    else:
        return
    yield Reason(text=rule.text, sources=(rule.source,))
