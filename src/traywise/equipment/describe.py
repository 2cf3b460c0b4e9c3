"""One place in full: everything of the spot, its needle, syringe, steps, cautions and reasons."""

from __future__ import annotations

from collections.abc import Sequence

from traywise.equipment.allot import Given
from traywise.equipment.apart import sore_pair
from traywise.equipment.body import Body
from traywise.equipment.needle import needle_text
from traywise.equipment.place import Needle, PlaceEquipment
from traywise.equipment.reasons import Reason, give_reasons
from traywise.equipment.site import room_at
from traywise.equipment.spot import Spot, same_limb, spot_text
from traywise.equipment.steps import StepText, is_mixed, minutes_text, write_steps
from traywise.equipment.syringe import choose_syringe, size_text, usable_sizes
from traywise.equipment.tables import (
    SyringeRow,
    TechniqueRow,
    VolumeRow,
    rules,
    sites,
    technique_rows,
    volume_rows,
)


def describe_place(
    n: int, spots: Sequence[Spot], given: Given, body: Body, policy: str
) -> PlaceEquipment:
    """The equipment of spot ``n``, with what it was given from the supplies."""
    spot = spots[n]
    row = choose_syringe(spot.what, spot.route, policy)
    option = spot.option
    planned = given.needle or _first_needle(spot)
    technique = _technique(spot, planned)
    steps = write_steps(
        spot.what,
        spot.route,
        body,
        policy,
        _flags(n, spots, planned, body, policy),
        _blanks(n, spots, planned),
    )
    volume = volume_row(spot, body)
    cited = [technique.source, row.source, *([volume.source] if volume else [])]
    reasons = [
        *give_reasons(n, spots, planned, body, policy),
        Reason(sources=(*cited, *(step.source for step in steps))),
    ]
    return PlaceEquipment(
        dose=spot.dose,
        what=spot.what,
        part=spot.part,
        parts=spot.parts,
        route=spot.route,
        site=option.code if option else None,
        site_key=option.site if option else None,
        limb=option.limb if option else None,
        site_text=spot_text(spot),
        position=spot.position,
        apart_mm=rules()["spacing-mm"].value if same_limb(spots, n) else None,
        needle=given.needle,
        needle_choices=option.needles.needles if option else (),
        needle_missing=_needle_missing(spot, given, row) if option else None,
        angle_deg=technique.angle_deg,
        technique=technique.text,
        syringe=_syringe_text(row, given.size_ml, spot),
        syringe_ml=given.size_ml,
        syringe_choices_ml=usable_sizes(row, spot.what.volume_ml) if option else (),
        syringe_missing=_syringe_missing(spot, given, row) if option else None,
        one_piece=given.set_used,
        steps=tuple(step.text for step in steps if step.stage != "caution"),
        needs=tuple(key for step in steps for key in step.needs),
        cautions=(*_place_cautions(spot, given, volume, row), *_texts(steps, "caution")),
        why=tuple(reason.text for reason in reasons if reason.text),
        source=tuple(dict.fromkeys(source for reason in reasons for source in reason.sources)),
    )


def _first_needle(spot: Spot) -> Needle | None:
    needles = spot.option.needles.needles if spot.option else ()
    return needles[0] if needles else None


def _texts(steps: Sequence[StepText], stage: str) -> tuple[str, ...]:
    return tuple(step.text for step in steps if step.stage == stage)


def _technique(spot: Spot, needle: Needle | None) -> TechniqueRow:
    stretched = is_stretched(spot, needle)
    rows = [row for row in technique_rows() if row.route == spot.route]
    return next((row for row in rows if row.stretched == stretched), rows[0])


def is_stretched(spot: Spot, needle: Needle | None) -> bool:
    """Whether this needle is long enough only with the skin stretched flat."""
    return (
        spot.option is not None
        and needle is not None
        and needle.length_mm in spot.option.needles.row.stretched_mm
    )


def _flags(
    n: int, spots: Sequence[Spot], needle: Needle | None, body: Body, policy: str
) -> frozenset[str]:
    spot = spots[n]
    vaccine = spot.what.vaccine
    latex = spot.what.presentation in vaccine.latex_in
    option = spot.option
    several = spot.what.presentation in ("multidose", "ampoule")
    holds = {
        "shake": vaccine.shake,
        "no-shake": not vaccine.shake,
        "mixed": is_mixed(spot.what),
        "several-doses": several,
        "stretched": is_stretched(spot, needle),
        "bleeding": body.bleeds,
        "shares-limb": bool(same_limb(spots, n)),
        "sore-neighbour": any(
            sore_pair(spot.what, spots[other].what) for other in same_limb(spots, n)
        ),
        "over-normal": _is_over_normal(n, spots, body, policy),
        "three-in-deltoid": _is_three_in_deltoid(n, spots),
        "ventrogluteal": option is not None and option.site == "ventrogluteal",
        "muscle-unknown": option is not None and option.muscle_unknown,
        "split": spot.parts > 1,
        "several-syringes": sum(other.option is not None for other in spots) > 1,
        "latex-anaphylaxis": latex and "anaphylaxis-latex" in body.conditions,
        "latex-contact": latex and "latex-contact-allergy" in body.conditions,
    }
    return frozenset(flag for flag, held in holds.items() if held)


def _is_over_normal(n: int, spots: Sequence[Spot], body: Body, policy: str) -> bool:
    """Whether the site or limb of spot n holds more than it usually takes."""
    option = spots[n].option
    if option is None:
        return False
    others = same_limb(spots, n)
    at_site = 1 + sum(_site_of(spots[other]) == option.site for other in others)
    limb = sites()[option.site].limb
    return (
        at_site > room_at(body, option.site, policy).normal
        or len(others) + 1 > room_at(body, limb, policy).normal
    )


def _is_three_in_deltoid(n: int, spots: Sequence[Spot]) -> bool:
    option = spots[n].option
    if option is None or option.site != "deltoid":
        return False
    return sum(_site_of(spots[other]) == "deltoid" for other in same_limb(spots, n)) >= 2


def _site_of(spot: Spot) -> str | None:
    return spot.option.site if spot.option else None


def _blanks(n: int, spots: Sequence[Spot], needle: Needle | None) -> dict[str, str]:
    spot = spots[n]
    diluent = spot.what.vaccine.diluent
    text = spot_text(spot)
    return {
        "volume": f"{spot.what.volume_ml:g} mL",
        "needle": needle_text(needle) if needle else "",
        "site": text[0].upper() + text[1:],
        "landmark": sites()[spot.option.site].landmark if spot.option else "",
        "apart": str(rules()["spacing-mm"].value),
        "others": _names_of([spots[other] for other in same_limb(spots, n)]),
        "minutes": minutes_text(diluent.use_within_minutes) if diluent else "",
        "diluent": diluent.name if diluent else "",
    }


def _names_of(spots: Sequence[Spot]) -> str:
    return " and ".join(spot.what.vaccine.name for spot in spots)


def _wanted_text(needles: Sequence[Needle]) -> str:
    """Needles in words, lengths in order of preference: "25 mm in 25, 23, 24 or 22 gauge"."""
    lengths: dict[int, list[int]] = {}
    for needle in needles:
        lengths.setdefault(needle.length_mm, []).append(needle.gauge)
    texts = []
    for mm, gauges in lengths.items():
        *most, last = [str(gauge) for gauge in gauges]
        listed = f"{', '.join(most)} or {last}" if most else last
        texts.append(f"{mm} mm in {listed} gauge")
    return ", or ".join(texts)


def _needle_missing(spot: Spot, given: Given, row: SyringeRow) -> str | None:
    if spot.option is None or given.needle is not None or spot.option.needles.row.device:
        return None
    piece = "a needle with its syringe in one piece" if row.set else "a needle"
    return f"Not at hand: {piece}, {_wanted_text(spot.option.needles.needles)}. Get it first."


def _syringe_missing(spot: Spot, given: Given, row: SyringeRow) -> str | None:
    sizes = usable_sizes(row, spot.what.volume_ml)
    if not sizes or given.size_ml is not None:
        return None
    return f"Not at hand: a syringe of {' or '.join(size_text(size) for size in sizes)}."


def _syringe_text(row: SyringeRow, size_ml: float | None, spot: Spot) -> str:
    sizes = usable_sizes(row, spot.what.volume_ml)
    size = size_ml if size_ml is not None else (sizes[0] if sizes else None)
    return row.text.format(size=size_text(size) if size is not None else "")


def _place_cautions(
    spot: Spot, given: Given, volume: VolumeRow | None, syringe: SyringeRow
) -> tuple[str, ...]:
    """Cautions that come from the needle row, the stock and the volume."""
    said = []
    option = spot.option
    if option is None:
        return ()
    row = option.needles.row
    if row.caution:
        said.append(row.caution)
    first = _first_needle(spot)
    if given.needle is not None and first and given.needle.length_mm != first.length_mm:
        said.append(
            f"{first.length_mm} mm would be first choice and is not at hand; "
            f"{given.needle.length_mm} mm is within the table."
        )
    if given.set_used and not usable_sizes(syringe, spot.what.volume_ml):
        said.append(
            "Only needles with a syringe are at hand: take the needle off its syringe, if it "
            "comes off, for the ready-filled one."
        )
    if volume is not None:
        said.append(
            f"{spot.what.volume_ml:g} mL is more than many texts put in one place here "
            f"({volume.warn_above_ml:g} mL); no authority sets a limit, the labelled dose stands."
        )
    return tuple(said)


def volume_row(spot: Spot, body: Body) -> VolumeRow | None:
    """The convention that the volume exceeds; None if it exceeds none."""
    if spot.option is None or spot.route != "IM":
        return None
    for row in volume_rows():
        if row.site == spot.option.site and body.in_age(row.age_from, row.age_before):
            return row if spot.what.volume_ml > row.warn_above_ml else None
    return None
