"""Checks a plan against the rules alone: it shares no code with the search.

Reads nothing of offers, program or solver; each rule is written once more, straight
from the tables, and every breach is a fault with child, lot and remedy.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from traywise.calendar import add
from traywise.errors import Fault
from traywise.rulebook.same_day import same_day_pairs
from traywise.rulebook.vaccines import Vaccine, vaccines, vaccines_by_cvx
from traywise.session.plan import SessionPlan, Step, Visit
from traywise.session.request import Session, SessionChild
from traywise.shelf.lot import Lot
from traywise.tray.products import Pick


def check_plan(session: Session, plan: SessionPlan) -> tuple[Fault, ...]:
    """Every breach of a rule in the plan; empty when it holds."""
    faults = [*_roster(session, plan), *_stock(session, plan), *_time(session, plan)]
    children = {child.id: child for child in session.children}
    for visit in plan.visits:
        if visit.child in children:
            faults += _visit(session, children[visit.child], visit)
    faults += _vials(session, plan)
    return tuple(faults)


def _fault(number: int, at: str, text: str) -> Fault:
    return Fault(f"session.E1{number:02}", at, text)


def _roster(session: Session, plan: SessionPlan) -> Iterator[Fault]:
    """Every child of the roster once, in the order of the appointments."""
    if [visit.child for visit in plan.visits] != [child.id for child in session.children]:
        yield _fault(1, "visits", "The plan's children are not the roster's, in its order.")
    times = [visit.at.astimezone(UTC) for visit in plan.visits]
    if times != sorted(times):
        yield _fault(2, "visits", "The visits are not in the order of the appointments.")
    for child, visit in zip(session.children, plan.visits, strict=False):
        if child.at is not None and child.at.astimezone(UTC) != visit.at.astimezone(UTC):
            yield _fault(3, f"child {visit.child}", "The appointment was moved.")


def _stock(session: Session, plan: SessionPlan) -> Iterator[Fault]:
    """No lot gives more doses than it holds, and only lots of the shelf are used."""
    shelf = {lot.key: lot for lot in session.shelf}
    used: dict[tuple[str, ...], int] = {}
    for visit in plan.visits:
        for pick in visit.picks:
            used[pick.lot.key] = used.get(pick.lot.key, 0) + pick.injections
    for key, doses in used.items():
        if key not in shelf:
            yield _fault(10, f"lot {key[0]}", "The lot is not on the shelf.")
        elif doses > shelf[key].doses:
            yield _fault(11, f"lot {key[0]}", f"{doses} doses planned, {shelf[key].doses} there.")


def _time(session: Session, plan: SessionPlan) -> Iterator[Fault]:
    """From every appointment on, the work left fits into the vaccinators' time left."""
    weights = session.weights
    work = []
    for visit in plan.visits:
        doses = sum(pick.injections for pick in visit.picks)
        minutes = weights.minutes_per_child + weights.minutes_per_dose * doses if doses else 0
        work.append((visit.at.astimezone(UTC), minutes))
    end = session.end.astimezone(UTC)
    for moment, _ in work:
        needed = sum(minutes for at, minutes in work if at >= moment)
        there = int((end - moment).total_seconds() // 60) * session.vaccinators
        if needed > there:
            yield _fault(20, f"{moment:%H:%M}", f"{needed} minutes of work, {there} are left.")


def _visit(session: Session, child: SessionChild, visit: Visit) -> Iterator[Fault]:
    given: list[str] = []
    for pick in visit.picks:
        at = f"child {visit.child}, lot {pick.lot.lot}"
        vaccine = vaccines()[pick.vaccine]
        given += [*pick.groups, *pick.extra]
        for number, text in (
            *_lot_rules(session, child, pick, vaccine, visit.at),
            *_product_rules(session, child, pick, vaccine),
            *_series_rules(session, child, pick, vaccine),
        ):
            yield _fault(number, at, text)
    if len(given) != len(set(given)):
        yield _fault(30, f"child {visit.child}", "A group is given twice.")
    for pair in same_day_pairs():
        if pair.first in given and pair.second in given:
            yield _fault(31, f"child {visit.child}", pair.why)
    due = {g for g, f in child.need.wanted.items()}
    told = {group for pick in visit.picks for group in pick.groups} | {
        missed.group for missed in visit.missed
    }
    if due != told:
        yield _fault(32, f"child {visit.child}", "A due group is neither given nor explained.")


def _lot_rules(
    session: Session, child: SessionChild, pick: Pick, vaccine: Vaccine, at: datetime
) -> Iterator[tuple[int, str]]:
    lot = pick.lot
    if lot.expires is None or lot.expires < session.on:
        yield 40, f"Expired or of unknown expiry: {lot.expires}."
    if lot.held:
        yield 41, f"The lot is held: {lot.held}."
    if child.need.funding and lot.funding and child.need.funding != lot.funding:
        yield 42, f"{lot.funding} stock for a child of {child.need.funding} funding."
    if lot.product is None or lot.product.key != vaccine.key:
        yield 43, "The lot holds another product."
    moment = at.astimezone(UTC)
    if lot.discard_at is not None and lot.discard_at.astimezone(UTC) <= moment:
        yield 44, f"Past the discard time, {lot.discard_at:%H:%M}."
    if lot.opened_at is not None and vaccine.multidose_hours is not None:
        over = lot.opened_at.astimezone(UTC) + timedelta(hours=vaccine.multidose_hours)
        if over <= moment:
            yield 44, f"Opened too long ago: {over:%Y-%m-%d %H:%M}."


def _product_rules(
    session: Session, child: SessionChild, pick: Pick, vaccine: Vaccine
) -> Iterator[tuple[int, str]]:
    need, born, on = child.need, child.need.child.born, session.on
    named = any(
        vaccine.key in need.wanted[g].products or vaccine.family in need.wanted[g].products
        for g in pick.groups
        if g in need.wanted and need.wanted[g].products
    )
    first = vaccine.recommended_from if named and vaccine.recommended_from else vaccine.age_from
    before = (
        vaccine.recommended_before if named and vaccine.recommended_before else vaccine.age_before
    )
    if add(born, first) > on or (before is not None and add(born, before) <= on):
        yield 50, "The child is outside the product's ages."
    for limit in vaccine.limits:
        about = not limit.group or (
            limit.group in pick.groups
            and (not limit.doses or need.wanted[limit.group].next_dose in limit.doses)
        )
        lifted = limit.unless_answer and need.child.answers.get(limit.unless_answer) in (
            "yes",
            True,
        )
        shown = not limit.presentations or pick.lot.presentation in limit.presentations
        early = limit.age_from is not None and add(born, limit.age_from) > on
        late = limit.age_before is not None and add(born, limit.age_before) <= on
        if about and shown and not lifted and (early or late):
            yield 51, limit.why
    if vaccine.only_in and not any(need.edition.startswith(key) for key in vaccine.only_in):
        yield 52, f"Not used under {need.edition}."
    yield from _barred(child, pick, vaccine)


def _barred(child: SessionChild, pick: Pick, vaccine: Vaccine) -> Iterator[tuple[int, str]]:
    blocked = child.need.blocked
    keys = {*vaccine.groups, f"product {vaccine.key}", f"product {vaccine.family}"}
    keys |= {f"product {vaccine.key} as {pick.lot.presentation}"}
    keys |= {f"component {component}" for component in vaccine.components}
    if vaccine.live:
        keys.add("live")
    if pick.lot.presentation in vaccine.latex_in:
        keys.add("latex")
    for key in sorted(keys & set(blocked)):
        yield 53, f"Barred: {blocked[key].why}"
    if vaccine.only_if_blocked and not any(
        f"product {key}" in blocked for key in vaccine.only_if_blocked
    ):
        yield 54, "Only for a child who may not have the whole product."


def _series_rules(
    session: Session, child: SessionChild, pick: Pick, vaccine: Vaccine
) -> Iterator[tuple[int, str]]:
    need = child.need
    if set(pick.groups) | set(pick.extra) != set(vaccine.groups):
        yield 60, "The product's groups are not all accounted for."
    for group in pick.groups:
        forecast = need.wanted.get(group)
        if forecast is None:
            yield 61, f"{group} is not due."
            continue
        if forecast.earliest is not None and forecast.earliest > session.on:
            yield 62, f"{group} counts only from {forecast.earliest}."
        if forecast.products and not (
            {vaccine.key, vaccine.family} - {""} & set(forecast.products)
        ):
            yield 63, f"The schedule names other products for {group}."
        allowed = vaccine.places.get(group)
        if allowed is not None and forecast.next_dose not in allowed:
            yield 64, f"Not for dose {forecast.next_dose} of {group}."
        if vaccine.line_kept == "must" and vaccine.line_group == group:
            before = {
                product.line
                for dose in need.child.doses
                if dose.on <= session.on
                and (product := vaccines_by_cvx().get(dose.cvx)) is not None
                and product.line_group == group
                and product.line_kept == "must"
            }
            if before and vaccine.line not in before:
                yield 65, f"{group} was begun with {', '.join(sorted(before))}."
    yield from _extras(session, child, pick, vaccine)


def _extras(
    session: Session, child: SessionChild, pick: Pick, vaccine: Vaccine
) -> Iterator[tuple[int, str]]:
    rules = {extra.group: extra for extra in vaccine.extra_doses}
    for group in pick.extra:
        rule, forecast = rules.get(group), child.need.others.get(group)
        given = child.need.given.get(group, ())
        if rule is None or forecast is None or forecast.status not in ("not yet", "complete"):
            yield 66, f"{group} is not due, and an extra dose is not allowed."
        elif len(given) + 1 > rule.most_doses:
            yield 66, f"More than {rule.most_doses} doses of {group}."
        elif given and add(max(given), rule.interval) > session.on:
            yield 66, f"The last dose of {group} was too short ago."


def _vials(session: Session, plan: SessionPlan) -> Iterator[Fault]:
    """Mixed and opened vials: every dose has its step, and nothing passes its time."""
    at_of = {visit.child: visit.at.astimezone(UTC) for visit in plan.visits}
    shelf: dict[tuple[str, str, str], Lot] = {
        (lot.lot, lot.unit, lot.product.key if lot.product else ""): lot for lot in session.shelf
    }
    for step in plan.timeline:
        where = f"lot {step.lot}, {step.at:%H:%M}"
        for child in step.children:
            if child not in at_of:
                yield _fault(75, where, f"Child {child} has no visit.")
            elif not step.at.astimezone(UTC) <= at_of[child] < step.use_by.astimezone(UTC):
                yield _fault(70, where, f"Child {child} comes before it is ready or past its time.")
        lot = shelf.get((step.lot, step.unit, step.vaccine))
        if lot is None:
            yield _fault(71, where, "No such lot in that unit.")
            continue
        yield from _one_vial(lot, step, where)
    planned = sum(
        pick.injections for visit in plan.visits for pick in visit.picks if _has_step(pick.lot)
    )
    if planned != sum(step.doses for step in plan.timeline):
        yield _fault(74, "timeline", "Doses to mix or draw and steps do not agree.")


def _has_step(lot: Lot) -> bool:
    product = lot.product
    several = lot.presentation in ("multidose", "ampoule")
    return (
        lot.opened_at is not None
        or lot.discard_at is not None
        or (several and lot.vial_doses > 1)
        or (
            product is not None
            and product.diluent is not None
            and lot.presentation == "vial+diluent"
        )
    )


def _one_vial(lot: Lot, step: Step, where: str) -> Iterator[Fault]:
    vaccine = vaccines()[step.vaccine]
    if step.what == "mix" and vaccine.diluent is not None:
        keeps = timedelta(minutes=vaccine.diluent.use_within_minutes)
        if step.use_by.astimezone(UTC) - step.at.astimezone(UTC) > keeps:
            yield _fault(72, where, "The mixed dose is kept too long.")
    if step.what == "open":
        if vaccine.multidose_hours is not None:
            keeps = timedelta(hours=vaccine.multidose_hours)
            if step.use_by.astimezone(UTC) - step.at.astimezone(UTC) > keeps:
                yield _fault(72, where, "The opened vial is kept too long.")
        if step.doses > lot.vial_doses:
            yield _fault(73, where, f"More than {lot.vial_doses} doses from one vial.")
