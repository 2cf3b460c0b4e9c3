"""Places of the tray: the product of a pick with the equipment of its place."""

from __future__ import annotations

from collections.abc import Sequence

from traywise.equipment.place import Layout, PlaceEquipment
from traywise.rulebook.edition import load_edition
from traywise.rulebook.vaccines import vaccines
from traywise.schedule.answer import Answer
from traywise.tray.plan import Needle, Place
from traywise.tray.products import Pick


def places_of(picks: Sequence[Pick], layout: Layout, answer: Answer) -> tuple[Place, ...]:
    """One place a dose or part of a dose, in the order of giving."""
    return tuple(
        _place(number, picks[spot.dose], spot, answer)
        for number, spot in enumerate(layout.places, start=1)
    )


def _place(n: int, pick: Pick, spot: PlaceEquipment, answer: Answer) -> Place:
    vaccine = vaccines()[pick.vaccine]
    lot = pick.lot
    mixed = vaccine.diluent is not None and lot.presentation == "vial+diluent"
    forecasts = [answer.groups[group] for group in pick.groups]
    return Place(
        n=n,
        cvx=lot.cvx,
        vaccine=vaccine.key,
        name=vaccine.name,
        lot=lot.lot,
        expires=lot.expires,
        presentation=lot.presentation,
        groups=(*pick.groups, *pick.extra),
        dose_numbers=pick.dose_numbers,
        route=spot.route,
        volume_ml=pick.volume_ml,
        site=spot.site,
        site_text=spot.site_text,
        position=spot.position,
        needle=_needle(spot.needle),
        needle_choices=tuple(
            Needle(gauge=one.gauge, length_mm=one.length_mm) for one in spot.needle_choices
        ),
        needle_missing=spot.needle_missing,
        angle_deg=spot.angle_deg,
        technique=spot.technique,
        syringe=spot.syringe,
        steps=spot.steps,
        use_within_minutes=vaccine.diluent.use_within_minutes
        if mixed and vaccine.diluent
        else None,
        cautions=spot.cautions,
        why=(*_due_reasons(pick, answer), *pick.why, *spot.why),
        source=tuple(dict.fromkeys((*(one.source for one in forecasts), *spot.source))),
        unit=lot.unit or None,
        funding=lot.funding or None,
    )


def _needle(needle: object) -> Needle | None:
    gauge, length_mm = getattr(needle, "gauge", None), getattr(needle, "length_mm", None)
    if gauge is None or length_mm is None:
        return None
    return Needle(gauge=gauge, length_mm=length_mm)


def _due_reasons(pick: Pick, answer: Answer) -> list[str]:
    """Since when each group is due, groups of one date together."""
    by_text: dict[str, list[str]] = {}
    seasons = {one.key: one.head.yearly for one in load_edition(answer.edition).groups}
    for group in pick.groups:
        one = answer.groups[group]
        text = f"{one.status} since {one.due}"
        if one.due is not None and seasons.get(group) == f"{one.due:%m-%d}":
            # The first day of counting is no day on which anybody should have come.
            text = f"not yet given this season, which counts from {one.due}"
        if one.latest is not None and one.due is not None and (one.latest - one.due).days < 366:
            text += f", last day {one.latest}"
        by_text.setdefault(text, []).append(group)
    return [f"{', '.join(groups)} {text}" for text, groups in by_text.items()]
