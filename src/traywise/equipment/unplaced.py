"""Why an injection has no place today, and the first day of a second visit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from traywise.equipment.apart import are_kept_apart
from traywise.equipment.body import Body
from traywise.equipment.layout import Assignment, Injection
from traywise.equipment.place import Unplaced
from traywise.equipment.site import room_at, why_nowhere
from traywise.equipment.tables import rules, sites


def explain_unplaced(
    injection: Injection,
    injections: Sequence[Injection],
    found: Assignment,
    body: Body,
    policy: str,
) -> Unplaced:
    """The rule that binds: no site at all, an antibody's own limb, or no room left."""
    if not injection.options:
        why, source = why_nowhere(body, injection.route, policy)
        return Unplaced(
            dose=injection.dose,
            what=injection.what,
            why=f"{why} The clinician decides how it can be given.",
            source=source,
        )
    given = [i for i, option in zip(injections, found.options, strict=True) if option]
    apart = next((other for other in given if are_kept_apart(injection.what, other.what)), None)
    limbs = {option.limb for option in injection.options}
    if apart is not None and len(limbs) == 1:
        return Unplaced(
            dose=injection.dose,
            what=injection.what,
            why=(
                f"A vaccine and the antibody against the same disease go in separate limbs, and "
                f"with {apart.what.vaccine.name} placed no other limb is free. If both are "
                "needed today the clinician decides."
            ),
            source=rules()["antibody-apart"].source,
        )
    return Unplaced(
        dose=injection.dose,
        what=injection.what,
        why=f"No room today: {_room_text(injection, body, policy)}.",
        next_visit=_second_visit(injection, given, body.on),
        source=room_at(body, injection.options[0].site, policy).row.source,
    )


def _room_text(injection: Injection, body: Body, policy: str) -> str:
    seen = dict.fromkeys((option.site, option.limb) for option in injection.options)
    parts = []
    for site in dict.fromkeys(site for site, _ in seen):
        sides = sum(1 for at, _ in seen if at == site)
        most = room_at(body, site, policy).most
        usable = "both sides" if sides == 2 else "one side can be used"
        parts.append(f"{sites()[site].name} takes at most {most} at one visit ({usable})")
    return ", ".join(parts + _limb_limits(dict.fromkeys(site for site, _ in seen), body, policy))


def _limb_limits(at: Iterable[str], body: Body, policy: str) -> list[str]:
    """Whole limbs that take fewer than their sites together."""
    together: dict[str, int] = {}
    for site in at:
        limb = sites()[site].limb
        together[limb] = together.get(limb, 0) + room_at(body, site, policy).most
    return [
        f"and a whole {limb} at most {most}"
        for limb, sum_of_sites in together.items()
        if (most := room_at(body, limb, policy).most) < sum_of_sites
    ]


def _second_visit(injection: Injection, given: Sequence[Injection], on: date) -> date:
    """Any later day, or after the gap between live vaccines not given the same day."""
    live_today = any(other.what.vaccine.live and other.route != "PO" for other in given)
    waits = injection.what.vaccine.live and live_today
    days = rules()["live-gap-days" if waits else "next-visit-days"].value
    return on + timedelta(days=days)
