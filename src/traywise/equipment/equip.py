"""From the doses of a visit to the equipment of every place: the room's one way in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from traywise.equipment.allot import Want, allot
from traywise.equipment.body import Body, read_body
from traywise.equipment.describe import describe_place
from traywise.equipment.in_date import expired, in_date, name_expired
from traywise.equipment.layout import Assignment, Injection, best_layout
from traywise.equipment.order import giving_key
from traywise.equipment.place import DoseToPlace, Layout, SupplyOnHand, Unplaced
from traywise.equipment.policy import policy_chain, policy_text
from traywise.equipment.route import NOT_INJECTED, choose_route
from traywise.equipment.site import site_options
from traywise.equipment.spot import Spot, give_positions
from traywise.equipment.syringe import choose_syringe, usable_sizes
from traywise.equipment.tables import DEFAULT_POLICY
from traywise.equipment.unplaced import explain_unplaced
from traywise.errors import Fault, InputError
from traywise.record.child import Child


def equip(
    child: Child,
    on: date,
    doses: Sequence[DoseToPlace],
    supplies: Sequence[SupplyOnHand] | None = None,
    policy: str = DEFAULT_POLICY,
) -> Layout:
    """Site, needle, syringe and steps for every dose of a visit, in the order of giving.

    doses     any order; the result does not depend on it
    supplies  what is at hand, expired boxes left out here; None: not counted, the first
              choice of each table is named
    policy    a needle policy: a key of ``needles.toml`` or the path of a file like it
    returns   places in order, doses without a place (with the rule that binds), cautions
    raises    InputError for an unknown or unfit policy or a day before birth
    source    each place carries its own
    """
    shown = policy_text(policy)  # refuses an unknown policy before anything else
    if on < child.born:
        raise InputError(
            [Fault("equipment.E002", "day of the visit", f"{on} is before the birth {child.born}.")]
        )
    body = read_body(child, on)
    spots = _swallowed(doses, body)
    injections = _injections(doses, body, policy)
    found = best_layout(injections, body, policy)
    spots += _injected(injections, found, body)
    spots.sort(key=lambda spot: giving_key(spot.what, spot.route, spot.part))
    spots = give_positions(spots)
    usable = None if supplies is None else in_date(supplies, on)
    given = allot([_want(spot, policy) for spot in spots], usable)
    gone = expired(supplies or (), on)
    places = tuple(
        name_expired(describe_place(n, spots, given[n], body, policy), gone)
        for n in range(len(spots))
    )
    return Layout(
        places=places,
        unplaced=_unplaced(injections, found, body, policy),
        cautions=_cautions(spots, body),
        policy=policy,
        policy_key=policy_chain(policy)[0].head.key,
        policy_text=shown,
    )


def _swallowed(doses: Sequence[DoseToPlace], body: Body) -> list[Spot]:
    spots = []
    for n, dose in enumerate(doses):
        route, why = choose_route(dose.vaccine, body)
        if route in NOT_INJECTED:
            spots.append(Spot(dose=n, part=1, parts=1, what=dose, route=route, route_why=why))
    return spots


def _injections(doses: Sequence[DoseToPlace], body: Body, policy: str) -> list[Injection]:
    found = []
    for n, dose in enumerate(doses):
        route, _ = choose_route(dose.vaccine, body)
        if route in NOT_INJECTED:
            continue
        options = site_options(body, route, dose.vaccine, policy)
        found += [
            Injection(
                dose=n,
                part=part,
                parts=dose.injections,
                route=route,
                what=dose,
                options=options,
            )
            for part in range(1, dose.injections + 1)
        ]
    return found


def _injected(injections: Sequence[Injection], found: Assignment, body: Body) -> list[Spot]:
    return [
        Spot(
            dose=injection.dose,
            part=injection.part,
            parts=injection.parts,
            what=injection.what,
            route=injection.route,
            route_why=choose_route(injection.what.vaccine, body)[1],
            option=option,
        )
        for injection, option in zip(injections, found.options, strict=True)
        if option is not None
    ]


def _want(spot: Spot, policy: str) -> Want:
    if spot.option is None:
        return Want(needles=())
    row = choose_syringe(spot.what, spot.route, policy)
    return Want(
        needles=spot.option.needles.needles,
        sizes_ml=usable_sizes(row, spot.what.volume_ml),
        one_piece=row.set,
    )


def _unplaced(
    injections: Sequence[Injection], found: Assignment, body: Body, policy: str
) -> tuple[Unplaced, ...]:
    """One entry a dose, however many injections it is."""
    told: dict[int, Unplaced] = {}
    for injection, option in zip(injections, found.options, strict=True):
        if option is None and injection.dose not in told:
            told[injection.dose] = explain_unplaced(injection, injections, found, body, policy)
    return tuple(told[dose] for dose in sorted(told))


def _cautions(spots: Sequence[Spot], body: Body) -> tuple[str, ...]:
    """What holds for the whole visit: doubts about the child, what is missing."""
    said = list(body.cautions)
    for spot in spots:
        if spot.option is not None:
            said += spot.option.needles.missing
    return tuple(dict.fromkeys(said))
