"""When to mix and open what, so that nothing passes its time; and what is left in the vials."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from traywise.session.deal import Picks
from traywise.session.plan import Step, Unused
from traywise.session.request import Session
from traywise.shelf.discard import discard_time, is_mixed, keeping_minutes
from traywise.shelf.lot import Lot
from traywise.shelf.usable import ends_at, why_not_usable
from traywise.tray.products import Pick


def timeline_of(
    session: Session, picks: Sequence[Picks]
) -> tuple[tuple[Step, ...], tuple[Unused, ...]]:
    """Steps in the order of the clock, and opened vials with doses left at the end."""
    uses: dict[tuple[str, ...], list[tuple[datetime, str, Pick]]] = {}
    for child, at, own in zip(session.children, session.times, picks, strict=True):
        for pick in own:
            uses.setdefault(pick.lot.key, []).append((at, child.id, pick))
    steps: list[Step] = []
    for lot in session.shelf:
        given = uses.get(lot.key, [])
        if lot.opened:
            steps += _from_opened(session, lot, given)
        elif lot.vial_doses > 1:
            steps += _from_vials(session, lot, given)
        elif lot.product is not None and is_mixed(lot.product, lot.presentation):
            steps += [_mixed(session, lot, at, child, pick) for at, child, pick in given]
    steps.sort(key=lambda step: (step.at.astimezone(UTC), step.unit, step.lot))
    left = [
        Unused(
            lot=step.lot,
            vaccine=step.vaccine,
            unit=step.unit,
            doses=step.left,
            ends=step.use_by,
            why="left in an opened vial" if step.doses else "opened, and nobody needs it today",
        )
        for step in steps
        if step.left
    ]
    return tuple(step for step in steps if step.doses), tuple(left)


def _mixed(session: Session, lot: Lot, at: datetime, child: str, pick: Pick) -> Step:
    """A powder for one child: mixed shortly before, never earlier than it keeps."""
    product = lot.product
    keeps = keeping_minutes(product, lot.presentation) if product else None
    ahead = session.weights.prepare_minutes
    # It must still be good when the child is late.
    if keeps is not None:
        ahead = max(0, min(ahead, keeps - session.weights.late_minutes))
    mixed_at = _shift(at, -ahead)
    return Step(
        at=mixed_at,
        what="mix",
        lot=lot.lot,
        vaccine=pick.vaccine,
        unit=lot.unit,
        use_by=_use_by(session, lot, mixed_at),
        doses=pick.injections,
        children=(child,),
    )


def _from_opened(session: Session, lot: Lot, given: list[tuple[datetime, str, Pick]]) -> list[Step]:
    end = ends_at(lot, session.zone)
    over = why_not_usable(lot, session.on, session.start, session.zone)
    if end is None or lot.product is None or over is not None:
        return []
    doses = sum(pick.injections for _, _, pick in given)
    return [
        Step(
            at=given[0][0] if given else session.start,
            what="go on",
            lot=lot.lot,
            vaccine=lot.product.key,
            unit=lot.unit,
            use_by=end,
            doses=doses,
            children=tuple(child for _, child, _ in given),
            left=lot.doses - doses,
        )
    ]


def _from_vials(session: Session, lot: Lot, given: list[tuple[datetime, str, Pick]]) -> list[Step]:
    """Vials one after the other: the next is opened when one is empty or would not last."""
    steps: list[Step] = []
    late = session.weights.late_minutes
    in_lot = lot.doses
    for at, child, pick in given:
        step = steps[-1] if steps else None
        lasts = step is not None and _shift(at, late).astimezone(UTC) <= step.use_by.astimezone(UTC)
        if step is None or not lasts or step.left < pick.injections:
            size = min(lot.vial_doses, in_lot)
            in_lot -= size
            step = Step(
                at=at,
                what="open",
                lot=lot.lot,
                vaccine=pick.vaccine,
                unit=lot.unit,
                use_by=_use_by(session, lot, at),
                doses=0,
                children=(),
                left=size,
            )
            steps.append(step)
        steps[-1] = _used(step, child, pick)
    return steps


def _used(step: Step, child: str, pick: Pick) -> Step:
    return Step(
        at=step.at,
        what=step.what,
        lot=step.lot,
        vaccine=step.vaccine,
        unit=step.unit,
        use_by=step.use_by,
        doses=step.doses + pick.injections,
        children=(*step.children, child),
        left=step.left - pick.injections,
    )


def _use_by(session: Session, lot: Lot, at: datetime) -> datetime:
    product = lot.product
    if product is None or lot.expires is None:
        return session.end
    return discard_time(
        product, lot.presentation, at, lot.expires, session_end=session.end, zone=session.zone
    ).at


def _shift(at: datetime, minutes: int) -> datetime:
    return (at.astimezone(UTC) + timedelta(minutes=minutes)).astimezone(at.tzinfo)
