"""Whether one product, in one presentation, may serve one child today: every rule but the stock.

The same function stands behind the tray of one child and the plan of a session.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import msgspec

from traywise.calendar import Span, add, format_span
from traywise.rulebook.vaccines import ExtraDose, Limit, Vaccine, vaccines, within
from traywise.schedule.answer import GroupForecast
from traywise.tray.need import Need, line_in, product_key

HARMLESS = ("not yet", "complete")


class Serving(msgspec.Struct, frozen=True, kw_only=True):
    """A product in a presentation that may serve the child today.

    groups        wanted groups it covers
    extra         groups it also gives although they are not due: allowed and harmless
    injections    places it takes on the tray; as many doses leave the lot
    leaves_line   it leaves a product line that had better be kept
    """

    vaccine: Vaccine
    presentation: str
    groups: tuple[str, ...]
    extra: tuple[str, ...]
    dose_numbers: dict[str, int]
    volume_ml: float
    injections: int
    leaves_line: str = ""


class Refusal(msgspec.Struct, frozen=True, kw_only=True):
    """Why a product may not serve the child today; ``until``: the day on which it may."""

    kind: str  # blocked, edition, products, component, age, place, line, volume
    why: str
    until: date | None = None
    source: str = ""


def fit(need: Need, vaccine: Vaccine, presentation: str) -> Serving | Refusal | None:
    """The serving, the first rule that refuses it, or None when it covers nothing wanted."""
    covered = tuple(group for group in vaccine.groups if group in need.wanted)
    if not covered:
        return None
    for refusal in _refusals(need, vaccine, presentation, covered):
        return refusal
    child = need.child
    volume = vaccine.volume_on(
        child.born, need.on, presentation, child.weight_kg, child.conditions_on(need.on)
    )
    if volume is None:
        return _no_volume(need, vaccine, presentation)
    numbers = {group: number for group in covered if (number := need.wanted[group].next_dose)}
    return Serving(
        vaccine=vaccine,
        presentation=presentation,
        groups=covered,
        extra=tuple(group for group in vaccine.groups if group not in need.wanted),
        dose_numbers=numbers,
        volume_ml=volume.ml,
        injections=volume.injections,
        leaves_line=_line_left(need, vaccine, covered),
    )


def _refusals(
    need: Need, vaccine: Vaccine, presentation: str, covered: tuple[str, ...]
) -> Iterator[Refusal]:
    """Every rule in turn; the first one found is what the clinician hears."""
    yield from _blocked(need, vaccine, presentation)
    if vaccine.only_in and not need.edition.startswith(vaccine.only_in):
        yield Refusal(kind="edition", why=f"{vaccine.name} is not used under {need.edition}")
    yield from _only_if_blocked(need, vaccine)
    yield from _not_named(need, vaccine, covered)
    yield from _components(need, vaccine)
    yield from _age(need, vaccine, covered)
    yield from _limits(need, vaccine, presentation, covered)
    yield from _places(need, vaccine, covered)
    yield from _lines(need, vaccine, covered)


def _blocked(need: Need, vaccine: Vaccine, presentation: str) -> Iterator[Refusal]:
    keys = [*vaccine.groups]
    keys += [product_key(key) for key in (vaccine.key, vaccine.family) if key]
    keys.append(product_key(vaccine.key, presentation))
    keys += [f"component {component}" for component in vaccine.components]
    if presentation in vaccine.latex_in:
        keys.append("latex")
    if vaccine.live:
        keys.append("live")
    for key in keys:
        block = need.blocked.get(key)
        if block is not None:
            why = block.why
            if key.startswith("component ") or key == "latex":
                why = (
                    f"{vaccine.name} ({presentation}) holds {key.removeprefix('component ')}: {why}"
                )
            yield Refusal(kind="blocked", why=why, until=block.until, source=block.source)


def _only_if_blocked(need: Need, vaccine: Vaccine) -> Iterator[Refusal]:
    """A product that lacks something is only for a child who may not have the whole."""
    if vaccine.only_if_blocked and not any(
        product_key(key) in need.blocked for key in vaccine.only_if_blocked
    ):
        whole = vaccines()[vaccine.only_if_blocked[0]].name
        yield Refusal(
            kind="products",
            why=f"{vaccine.name} is only for a child who may not have {whole}",
            source=vaccine.field_sources.get("only_if_blocked", vaccine.source),
        )


def _not_named(need: Need, vaccine: Vaccine, covered: tuple[str, ...]) -> Iterator[Refusal]:
    for group in covered:
        forecast = need.wanted[group]
        if forecast.products and not vaccine.named_by(forecast.products):
            yield Refusal(
                kind="products",
                why=f"for this {group} dose the schedule names {', '.join(forecast.products)}",
                source=forecast.source,
            )


def _components(need: Need, vaccine: Vaccine) -> Iterator[Refusal]:
    """Every component is due with its minimum age and interval reached, or harmless by rule."""
    extras = {extra.group: extra for extra in vaccine.extra_doses}
    for group in vaccine.groups:
        forecast = need.wanted.get(group)
        if forecast is not None:
            if forecast.earliest is not None and forecast.earliest > need.on:
                why = f"{group} counts only from {forecast.earliest.isoformat()}"
                yield Refusal(
                    kind="component", why=why, until=forecast.earliest, source=forecast.source
                )
            continue
        other = need.others.get(group)
        if group not in extras or not _harmless(need, group, other, extras[group]):
            said = "unknown" if other is None else other.status
            yield Refusal(
                kind="component",
                why=f"{vaccine.name} also holds {group}, which is not due ({said})",
                until=None if other is None or other.status != "not yet" else other.due,
                source=vaccine.source,
            )


def _harmless(need: Need, group: str, forecast: GroupForecast | None, extra: ExtraDose) -> bool:
    if forecast is None or forecast.status not in HARMLESS:
        return False
    given = need.given.get(group, ())
    if len(given) + 1 > extra.most_doses:
        return False
    return not given or add(given[-1], extra.interval) <= need.on


def _age(need: Need, vaccine: Vaccine, covered: tuple[str, ...]) -> Iterator[Refusal]:
    named = any(vaccine.named_by(need.wanted[group].products) for group in covered)
    if vaccine.in_age(need.child.born, need.on, named=named):
        return
    first = (vaccine.recommended_from if named else None) or vaccine.age_from
    before = (vaccine.recommended_before if named else None) or vaccine.age_before
    yield _age_refusal(need, vaccine.name, first, before, vaccine.source)


def _age_refusal(
    need: Need, name: str, first: Span | None, before: Span | None, source: str, why: str = ""
) -> Refusal:
    born = need.child.born
    if first is not None and add(born, first) > need.on:
        text = f"{name} is given from {format_span(first)} of age"
        until: date | None = add(born, first)
    else:
        text = f"{name} is given before {format_span(before or Span())} of age"
        until = None
    return Refusal(kind="age", why=f"{text}: {why}" if why else text, until=until, source=source)


def _limits(
    need: Need, vaccine: Vaccine, presentation: str, covered: tuple[str, ...]
) -> Iterator[Refusal]:
    for limit in vaccine.limits:
        if _applies(need, limit, presentation, covered) and not within(
            limit.age_from, limit.age_before, need.child.born, need.on
        ):
            yield _age_refusal(
                need, vaccine.name, limit.age_from, limit.age_before, limit.source, limit.why
            )


def _applies(need: Need, limit: Limit, presentation: str, covered: tuple[str, ...]) -> bool:
    if limit.presentations and presentation not in limit.presentations:
        return False
    if limit.unless_answer and need.child.answers.get(limit.unless_answer) in ("yes", True):
        return False
    if not limit.group:
        return True
    return limit.group in covered and (
        not limit.doses or need.wanted[limit.group].next_dose in limit.doses
    )


def _places(need: Need, vaccine: Vaccine, covered: tuple[str, ...]) -> Iterator[Refusal]:
    for group in covered:
        allowed = vaccine.places.get(group)
        number = need.wanted[group].next_dose
        if allowed is not None and number not in allowed:
            said = "an unknown dose" if number is None else f"dose {number}"
            yield Refusal(
                kind="place",
                why=f"{vaccine.name} is not for {said} of {group}",
                source=vaccine.source,
            )


def _lines(need: Need, vaccine: Vaccine, covered: tuple[str, ...]) -> Iterator[Refusal]:
    for group in covered:
        begun = need.lines.get(group, frozenset()) - {""}
        kept = begun & lines_kept("must", group)
        if kept and line_in(vaccine, group) not in kept:
            yield Refusal(
                kind="line",
                why=f"{group} was begun with {', '.join(sorted(kept))} and goes on with it",
                source=vaccine.field_sources.get("line_kept", vaccine.source),
            )


def lines_kept(rule: str, group: str) -> frozenset[str]:
    """Product lines of a group that must, or had better, be kept."""
    return frozenset(
        vaccine.line
        for vaccine in vaccines().values()
        if vaccine.line_group == group and vaccine.line_kept == rule
    )


def _line_left(need: Need, vaccine: Vaccine, covered: tuple[str, ...]) -> str:
    """The line that this product would leave although it had better be kept, or ""."""
    for group in covered:
        begun = need.lines.get(group, frozenset())
        if len(begun) != 1 or line_in(vaccine, group) in begun:
            continue
        (line,) = begun
        for kept in vaccines().values():
            if (kept.line, kept.line_group, kept.line_kept) == (line, group, "prefer") and (
                not kept.line_doses or need.wanted[group].next_dose in kept.line_doses
            ):
                return line
    return ""


def _no_volume(need: Need, vaccine: Vaccine, presentation: str) -> Refusal:
    child = need.child
    if child.weight_kg is None and vaccine.needs_weight(child.born, need.on, presentation):
        why = f"the weight is not recorded, and it decides the dose of {vaccine.name}"
    else:
        said = "" if child.weight_kg is None else f" at {child.weight_kg:g} kg"
        why = f"{vaccine.name} ({presentation}) has no dose for this child{said}"
    return Refusal(kind="volume", why=why, source=vaccine.source)
