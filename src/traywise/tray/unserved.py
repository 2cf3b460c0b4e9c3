"""Why a due group is not served today, and which products would serve it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, tzinfo

from traywise.calendar import add
from traywise.rulebook.same_day import same_day_pairs
from traywise.rulebook.vaccines import vaccines
from traywise.shelf.lot import Lot
from traywise.shelf.usable import why_not_usable
from traywise.tray.fit import Refusal, Serving, fit
from traywise.tray.need import Need
from traywise.tray.plan import NotToday


def explain_unserved(
    need: Need,
    groups: Sequence[str],
    shelf: Sequence[Lot] | None,
    now: datetime | None = None,
    zone: tzinfo | None = None,
    *,
    given: frozenset[str] = frozenset(),
) -> tuple[NotToday, ...]:
    """One entry for each of the groups: why, until when, and what would serve it.

    shelf  None: it could not be read, so what lies there is not known
    given  groups that the tray gives
    """
    return tuple(_explain(need, group, shelf, now, zone, given) for group in groups)


def _explain(
    need: Need,
    group: str,
    shelf: Sequence[Lot] | None,
    now: datetime | None,
    zone: tzinfo | None,
    given: frozenset[str],
) -> NotToday:
    block = need.blocked.get(group)
    if block is not None:
        return NotToday(group=group, why=block.why, until=block.until, source=block.source)
    for pair in same_day_pairs():
        if group in (pair.first, pair.second) and given & {pair.first, pair.second}:
            until = add(need.on, pair.interval) if group == pair.second else None
            return NotToday(group=group, why=pair.why, until=until, source=pair.source)
    serve = would_serve(need, group)
    if not serve:
        refusal = _nearest(_refusals(need, group, None))
        if refusal is not None:
            return NotToday(
                group=group, why=refusal.why, until=refusal.until, source=refusal.source
            )
    if shelf is None:
        return NotToday(group=group, why="the shelf could not be read", would_serve=serve)
    why, until, source = _shelf_reason(need, group, shelf, now, zone)
    return NotToday(group=group, why=why, until=until, would_serve=serve, source=source)


def would_serve(need: Need, group: str) -> tuple[str, ...]:
    """Keys of all products that might be given to this child today, were they on the shelf."""
    return tuple(
        vaccine.key
        for vaccine in vaccines().values()
        if group in vaccine.groups
        and any(isinstance(fit(need, vaccine, p), Serving) for p in vaccine.presentations)
    )


def _shelf_reason(
    need: Need,
    group: str,
    shelf: Sequence[Lot],
    now: datetime | None,
    zone: tzinfo | None,
) -> tuple[str, date | None, str]:
    """What stands against the lots that lie there: the reason nearest to a dose."""
    lots = [lot for lot in shelf if lot.product is not None and group in lot.product.groups]
    if not lots:
        return f"no lot of {group} on the shelf", None, ""
    fitting = [lot for lot in lots if isinstance(_fit(need, lot), Serving)]
    if not fitting:
        refusal = _nearest(_refusals(need, group, lots))
        if refusal is not None:
            return refusal.why, refusal.until, refusal.source
    states = [(lot, why_not_usable(lot, need.on, now, zone)) for lot in fitting]
    usable = [lot for lot, why in states if why is None]
    if not usable:
        said = "; ".join(sorted({f"lot {lot.lot}: {why}" for lot, why in states}))
        return said, None, ""
    matching = [lot for lot in usable if not need.funding or lot.funding in ("", need.funding)]
    if not matching:
        sources = ", ".join(sorted({lot.funding for lot in usable}))
        return f"only {sources} stock, and the child's funding is {need.funding}", None, ""
    if all(lot.doses < _injections(need, lot) for lot in matching):
        return "too few doses left in one lot", None, ""
    held = ", ".join(sorted({lot.product.name for lot in matching if lot.product}))
    return (
        f"what is at hand ({held}) holds a group that another product of the tray gives",
        None,
        "",
    )


def _fit(need: Need, lot: Lot) -> Serving | Refusal | None:
    return fit(need, lot.product, lot.presentation) if lot.product else None


def _injections(need: Need, lot: Lot) -> int:
    serving = _fit(need, lot)
    return serving.injections if isinstance(serving, Serving) else 1


def _refusals(need: Need, group: str, lots: Sequence[Lot] | None) -> list[Refusal]:
    """Refusals of the lots' products, or of every product of the group (None)."""
    if lots is None:
        pairs = {
            (vaccine.key, presentation): vaccine
            for vaccine in vaccines().values()
            if group in vaccine.groups
            for presentation in vaccine.presentations
        }
    else:
        pairs = {(lot.product.key, lot.presentation): lot.product for lot in lots if lot.product}
    # In a fixed order, so that the order of the shelf never shows.
    found = [fit(need, pairs[key], key[1]) for key in sorted(pairs)]
    return [refusal for refusal in found if isinstance(refusal, Refusal)]


# From what says least to what says most: a combination with a part that is not due is no
# reason why the group waits; an age, a bar or a missing weight is.
_NEARNESS = ("edition", "component", "products", "place", "age", "line", "blocked", "volume")


def _nearest(refusals: Sequence[Refusal]) -> Refusal | None:
    return max(refusals, key=lambda refusal: _NEARNESS.index(refusal.kind), default=None)
