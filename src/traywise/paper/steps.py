"""Says once what holds for several places, so that a place shows only what is its own.

Comes in: the places of a tray. Goes out: shared texts with a title that says for which places
they hold, and what is left for each place by its number. Texts are compared word for word; none
is dropped, and the tray itself stays as it is. With fewer than two injections nothing is shared.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from traywise.paper.wording import ROUTES, site_words
from traywise.tray.plan import Place

INJECTED = ("IM", "SC", "ID")
EVERY_DOSE, EVERY_INJECTION = "For every dose", "For every injection"

OwnTexts = dict[int, tuple[str, ...]]


class Shared(NamedTuple):
    """Texts that stand in several places, in their order; the title says in which."""

    title: str
    texts: tuple[str, ...]


def split_steps(places: Sequence[Place]) -> tuple[tuple[Shared, ...], OwnTexts]:
    """Steps told once and the steps of each place by ``n``.

    What every place has comes first, then what every injection has, then the technique that all
    of one route share, then how to find a site that several places use. A technique that all
    injections share leads their steps. The name of the site before its landmark is left out: the
    place says it.
    """
    common, own = _split_with_technique(places)
    return common, {
        place.n: tuple(text for text in own[place.n] if text not in _technique(place))
        for place in places
    }


def own_techniques(places: Sequence[Place]) -> dict[int, str]:
    """The technique of each place by ``n``, "" where it is told once for several."""
    _, own = _split_with_technique(places)
    return {
        place.n: place.technique if place.technique in own[place.n] or not _technique(place) else ""
        for place in places
    }


def _split_with_technique(places: Sequence[Place]) -> tuple[tuple[Shared, ...], OwnTexts]:
    own = {
        place.n: (*_technique(place), *(_without_site(place, step) for step in place.steps))
        for place in places
    }
    injected = [place for place in places if place.route in INJECTED]
    if len(injected) < 2:
        return (), own
    landmarks = _shared_landmarks(injected, own)
    own = _less(own, [text for shared in landmarks for text in shared.texts])
    # How to mix or shake stays at its place, even if all of a route happen to say the same.
    techniques = frozenset(text for place in injected for text in _technique(place))
    common, own = _by_all(places, injected, own, techniques)
    return (*common, *landmarks), own


def _technique(place: Place) -> tuple[str, ...]:
    """The technique of an injection as a text to be shared; none by mouth or nose."""
    return (place.technique,) if place.technique and place.route in INJECTED else ()


def split_why(places: Sequence[Place]) -> tuple[tuple[Shared, ...], OwnTexts]:
    """Reasons told once and the reasons of each place by ``n``.

    A reason that only repeats lot and expiry is left out: both stand beside it.
    """
    own = {
        place.n: tuple(
            text for text in place.why if text != f"lot {place.lot} expires {place.expires}"
        )
        for place in places
    }
    injected = [place for place in places if place.route in INJECTED]
    return _by_all(places, injected, own) if len(injected) > 1 else ((), own)


def shared_reasons(reasons: Sequence[Shared]) -> str:
    """Shared reasons as one text; those that do not hold for every injection say for which.

    >>> shared_reasons([Shared(EVERY_INJECTION, ("a",)), Shared(f"{EVERY_INJECTION} deep", ("b",))])
    'a; deep: b'
    """
    told = []
    for title, texts in reasons:
        which = title.removeprefix(EVERY_INJECTION).strip()
        told.append((f"{which}: " if which else "") + "; ".join(texts))
    return "; ".join(told)


def split_sources(places: Sequence[Place]) -> tuple[tuple[Shared, ...], OwnTexts]:
    """Sources that all injections share, and the further ones of each place by ``n``."""
    own = {place.n: place.source for place in places}
    injected = [place for place in places if place.route in INJECTED]
    return _by_all(places, injected, own) if len(injected) > 1 else ((), own)


def _repeats(reason: str, place: Place) -> bool:
    return reason == f"lot {place.lot} expires {place.expires}"


def _by_all(
    places: Sequence[Place],
    injected: Sequence[Place],
    own: OwnTexts,
    by_route: frozenset[str] | None = None,
) -> tuple[tuple[Shared, ...], OwnTexts]:
    """Texts that all places, all injections or all of one route share, the widest first.

    by_route  the only texts that may be shared by one route; None: any
    """
    ranges = [(EVERY_DOSE, list(places))] if len(injected) < len(places) else []
    ranges.append((EVERY_INJECTION, list(injected)))
    for route in INJECTED:
        some = [place for place in injected if place.route == route]
        if 1 < len(some) < len(injected):
            ranges.append((f"{EVERY_INJECTION} {ROUTES[route]}", some))
    found = []
    for title, holds_for in ranges:
        texts = _in_all(own, holds_for)
        if by_route is not None and title not in (EVERY_DOSE, EVERY_INJECTION):
            texts = tuple(text for text in texts if text in by_route)
        if texts:
            found.append(Shared(title, texts))
        own = own | _less({place.n: own[place.n] for place in holds_for}, texts)
    return tuple(found), own


def _in_all(own: OwnTexts, places: Sequence[Place]) -> tuple[str, ...]:
    first, *others = [own[place.n] for place in places]
    return tuple(dict.fromkeys(text for text in first if all(text in texts for texts in others)))


def _less(own: OwnTexts, told: Sequence[str]) -> OwnTexts:
    return {n: tuple(text for text in texts if text not in told) for n, texts in own.items()}


def _site_lead(place: Place) -> str:
    return f"{place.site_text[:1].upper()}{place.site_text[1:]}. "


def _without_site(place: Place, step: str) -> str:
    """The step without the name of the place's site in front, unless that is all it says."""
    return step.removeprefix(_site_lead(place)) or step


def _shared_landmarks(injected: Sequence[Place], own: OwnTexts) -> list[Shared]:
    places_of: dict[str, list[Place]] = {}
    for place in injected:
        lead = _site_lead(place)
        told = own[place.n][len(_technique(place)) :]
        for step, text in zip(place.steps, told, strict=True):
            if step.startswith(lead) and text != step:
                places_of.setdefault(text, []).append(place)
    return [
        Shared(f"Where on the {_sites(places)}", (text,))
        for text, places in places_of.items()
        if len(places) > 1
    ]


def _sites(places: Sequence[Place]) -> str:
    """The sites of some places in words: "left and right thigh"."""
    names = list(dict.fromkeys(site_words(place.site, place.route) for place in places))
    kinds = {name.removeprefix("left ").removeprefix("right ") for name in names}
    if len(names) == 2 and len(kinds) == 1:
        return f"left and right {kinds.pop()}"
    return ", ".join(names)
