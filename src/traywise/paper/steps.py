"""Says once what holds for several places, so that a place shows only what is its own.

Comes in: the places of a tray. Goes out: shared texts with a title that says for which places
they hold, and what is left for each place by its number. Texts are compared word for word; none
is dropped, and the tray itself stays as it is. With fewer than two injections nothing is shared.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from traywise.paper.wording import site_words
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

    What every place has comes first, then what every injection has (with its technique, when
    all share it), then how to find a site that several places use. The name of the site before
    its landmark is left out: the place says it already.
    """
    own = {place.n: tuple(_without_site(place, step) for step in place.steps) for place in places}
    injected = [place for place in places if place.route in INJECTED]
    if len(injected) < 2:
        return (), own
    landmarks = _shared_landmarks(injected, own)
    own = _less(own, [text for shared in landmarks for text in shared.texts])
    common, own = _by_all(places, injected, own)
    if technique := shared_technique(places):
        common = _with_technique(common, technique)
    return (*common, *landmarks), own


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


def split_sources(places: Sequence[Place]) -> tuple[tuple[Shared, ...], OwnTexts]:
    """Sources that all injections share, and the further ones of each place by ``n``."""
    own = {place.n: place.source for place in places}
    injected = [place for place in places if place.route in INJECTED]
    return _by_all(places, injected, own) if len(injected) > 1 else ((), own)


def _repeats(reason: str, place: Place) -> bool:
    return reason == f"lot {place.lot} expires {place.expires}"


def shared_technique(places: Sequence[Place]) -> str | None:
    """The technique of all injections, when there are several and they have the same."""
    found = [place.technique for place in places if place.route in INJECTED]
    return found[0] if len(found) > 1 and len(set(found)) == 1 and found[0] else None


def _by_all(
    places: Sequence[Place], injected: Sequence[Place], own: OwnTexts
) -> tuple[tuple[Shared, ...], OwnTexts]:
    found = []
    if len(injected) < len(places):
        found.append(Shared(EVERY_DOSE, _in_all(own, places)))
    own = _less(own, [text for shared in found for text in shared.texts])
    here = Shared(EVERY_INJECTION, _in_all(own, injected))
    own |= _less({place.n: own[place.n] for place in injected}, here.texts)
    return tuple(shared for shared in (*found, here) if shared.texts), own


def _in_all(own: OwnTexts, places: Sequence[Place]) -> tuple[str, ...]:
    first, *others = [own[place.n] for place in places]
    return tuple(dict.fromkeys(text for text in first if all(text in texts for texts in others)))


def _less(own: OwnTexts, told: Sequence[str]) -> OwnTexts:
    return {n: tuple(text for text in texts if text not in told) for n, texts in own.items()}


def _with_technique(common: tuple[Shared, ...], technique: str) -> tuple[Shared, ...]:
    told = [shared for shared in common if shared.title == EVERY_INJECTION]
    texts = (technique, *(told[0].texts if told else ()))
    return (
        *(shared for shared in common if shared.title != EVERY_INJECTION),
        Shared(EVERY_INJECTION, texts),
    )


def _site_lead(place: Place) -> str:
    return f"{place.site_text[:1].upper()}{place.site_text[1:]}. "


def _without_site(place: Place, step: str) -> str:
    """The step without the name of the place's site in front, unless that is all it says."""
    return step.removeprefix(_site_lead(place)) or step


def _shared_landmarks(injected: Sequence[Place], own: OwnTexts) -> list[Shared]:
    places_of: dict[str, list[Place]] = {}
    for place in injected:
        lead = _site_lead(place)
        for step, text in zip(place.steps, own[place.n], strict=True):
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
