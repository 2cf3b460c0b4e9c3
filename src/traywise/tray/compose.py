"""Composes the visit: from the record and the shelf to places in order, with reasons."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

import msgspec

from traywise.calendar import next_day
from traywise.equipment.equip import equip
from traywise.equipment.in_date import in_date
from traywise.equipment.place import DoseToPlace, Layout, SupplyOnHand
from traywise.equipment.tables import DEFAULT_POLICY
from traywise.record.child import Child, CvxCode, DoseGiven
from traywise.rulebook.vaccines import Vaccine, vaccines
from traywise.schedule.answer import Answer, GroupForecast
from traywise.schedule.assess import assess
from traywise.screening.apply import apply
from traywise.screening.screen import screen
from traywise.screening.verdicts import Screening
from traywise.shelf.lot import Lot
from traywise.tray.blocks import blocks_of
from traywise.tray.cautions import visit_cautions
from traywise.tray.need import ASKABLE, WANTED
from traywise.tray.places import places_of
from traywise.tray.plan import NotToday, OpenQuestion, Place, Tray
from traywise.tray.products import Choice, Pick, choose
from traywise.tray.reach_notes import reach_notes
from traywise.tray.supplies import from_boxes, supplies_of

NEEDLESS = ("complete", "not recommended")


class Visit(msgspec.Struct, frozen=True, kw_only=True):
    """A composed visit: the answer of the schedule, the screening and the tray."""

    answer: Answer
    screening: Screening
    tray: Tray
    picks: tuple[Pick, ...] = ()


def compose_tray(
    child: Child,
    on: date,
    shelf: Sequence[Lot] | None,
    supplies: Sequence[SupplyOnHand] | None = None,
    edition: str = "us-2025",
    *,
    policy: str = DEFAULT_POLICY,
    now: datetime | None = None,
    funding: str | None = None,
    asked: frozenset[str] = frozenset(),
) -> Visit:
    """The tray of one child on one day.

    shelf     None: it could not be read; what is due is told, and nothing is laid
    supplies  needles and syringes at hand; None: not counted
    now       instant of use, for opened vials
    asked     groups left to the clinician that the clinician decided to give
    """
    answer = assess(child, edition, on)
    screening = screen(child, on, due_groups(answer, asked), candidates(shelf or ()))
    choice = choose(
        child, on, answer, blocks_of(screening.findings), shelf, now, funding, asked=asked
    )
    return compose_from(child, on, answer, screening, choice, supplies, policy, asked)


def due_groups(answer: Answer, asked: frozenset[str] = frozenset()) -> tuple[str, ...]:
    """Groups to be given today if nothing stands against it."""
    return tuple(
        group
        for group, one in answer.groups.items()
        if one.status in WANTED or (one.status == ASKABLE and group in asked)
    )


def candidates(shelf: Sequence[Lot]) -> tuple[Vaccine, ...]:
    """Products that screening looks at: those on the shelf, else all of the rulebook."""
    found = {lot.product.key for lot in shelf if lot.product is not None}
    return tuple(vaccine for key, vaccine in vaccines().items() if not found or key in found)


def compose_from(
    child: Child,
    on: date,
    answer: Answer,
    screening: Screening,
    choice: Choice,
    supplies: Sequence[SupplyOnHand] | None,
    policy: str = DEFAULT_POLICY,
    asked: frozenset[str] = frozenset(),
) -> Visit:
    """The visit for a choice of products already made, by one child's search or a session's."""
    doses = [_to_place(pick, answer) for pick in choice.picks]
    layout = equip(child, on, doses, supplies, policy)
    places = places_of(choice.picks, layout, answer)
    questions = tuple(
        OpenQuestion(
            key=question.key,
            text=question.text,
            groups=question.groups,
            answers=question.answers,
            private=question.private,
            source=question.source,
        )
        for question in screening.questions
    )
    afterwards = _afterwards(child, on, places, answer, screening)
    tray = Tray(
        tray=places,
        not_today=_not_today(answer, choice, layout, asked, afterwards),
        questions=questions,
        supplies=from_boxes(supplies_of(places, layout.places), in_date(supplies or (), on)),
        cautions=visit_cautions(child, on, screening, layout),
        reach=reach_notes(child, on, places),
        afterwards=afterwards,
        needle_policy=layout.policy_key if places else "",
        state="nothing due" if not places else "after screening" if questions else "ready",
    )
    shown = apply(answer, screening)
    return Visit(answer=shown, screening=screening, tray=tray, picks=choice.picks)


def with_cautions(visit: Visit, texts: Sequence[str]) -> Visit:
    """The visit with further cautions of the whole visit at the head."""
    tray = msgspec.structs.replace(visit.tray, cautions=(*texts, *visit.tray.cautions))
    return msgspec.structs.replace(visit, tray=tray)


def _afterwards(
    child: Child, on: date, places: Sequence[Place], answer: Answer, screening: Screening
) -> dict[str, GroupForecast]:
    """What comes next in every group from tomorrow on, once today's places are given."""
    if not places:
        return {}
    given = tuple(DoseGiven(on=on, cvx=CvxCode(place.cvx)) for place in places)
    later = assess(
        msgspec.structs.replace(child, doses=child.doses + given), answer.edition, next_day(on)
    )
    return apply(later, screening).groups


def _to_place(pick: Pick, answer: Answer) -> DoseToPlace:
    # If not all have room, what is overdue and what covers more groups stays.
    late = sum(answer.groups[group].status == "overdue" for group in pick.groups)
    return DoseToPlace(
        vaccine=vaccines()[pick.vaccine],
        presentation=pick.lot.presentation,
        volume_ml=pick.volume_ml,
        lot=pick.lot.lot,
        groups=pick.groups,
        injections=pick.injections,
        urgency=10 * late + len(pick.groups),
    )


def _not_today(
    answer: Answer,
    choice: Choice,
    layout: Layout,
    asked: frozenset[str],
    afterwards: dict[str, GroupForecast],
) -> tuple[NotToday, ...]:
    """Due groups without a place: no product, no room, or left to a talk with the clinician.

    No talk about what today's doses make needless (PPSV23 when PCV20 is given).
    """
    found = list(choice.unserved)
    for left in layout.unplaced:
        found += [
            NotToday(group=group, why=left.why, until=left.next_visit, source=left.source)
            for group in choice.picks[left.dose].groups
        ]
    for group, one in answer.groups.items():
        if group in afterwards and afterwards[group].status in NEEDLESS:
            continue
        if one.status == ASKABLE and group not in asked:
            why = f"By shared decision: talk it over, then ask for it. {one.why}"
            found.append(NotToday(group=group, why=why, source=one.source))
        elif one.status == "deferred":
            found.append(NotToday(group=group, why=one.why, until=one.until, source=one.source))
    return tuple(found)
