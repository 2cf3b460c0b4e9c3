"""``traywise session --what-if``: the same session with one thing changed, in plain words.

A wish is read in two steps, both before the session is planned: its wording before any file,
then its lot, unit, file or day against what was read.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import NamedTuple

import click

from traywise.cli.input import born_by, read_records, show_faults
from traywise.cli.option_types import DAY
from traywise.record.child import Child
from traywise.session.day import SessionDay
from traywise.session.request import Session, SessionChild
from traywise.session.roster import assess_child
from traywise.session.whatif import (
    Difference,
    check_lot,
    check_unit,
    lose_unit,
    move_to,
    quarantine,
    vaccinators,
    walk_ins,
    what_if,
)
from traywise.shelf.lot import Lot
from traywise.tray.need import Need

KINDS = "vaccinators=-1, quarantine=LOT, lost-unit=UNIT, walk-ins=FILE, day=YYYY-MM-DD"


class Known(NamedTuple):
    """What was read before the session is planned."""

    shelf: Sequence[Lot]
    children: Sequence[Child]
    on: date


class Wish(NamedTuple):
    """A change in the words of the command line, its wording checked."""

    text: str
    kind: str
    value: str


class Change(NamedTuple):
    """A wish that can be carried out, and how."""

    text: str
    apply: Callable[[SessionDay], Session]


def read_wishes(texts: Sequence[str]) -> list[Wish]:
    """Each wish by kind and value; UsageError for a wording that is not understood."""
    wishes = []
    for text in texts:
        kind, sign, value = text.partition("=")
        if kind not in _KNOWN or not sign or not value:
            raise click.UsageError(f'--what-if "{text}" is not understood. Write one of: {KINDS}.')
        if kind == "vaccinators" and re.fullmatch(r"[+-]?[0-9]{1,4}", value) is None:
            raise _refused(text, f'"{value}" is not a whole number, such as -1')
        if kind == "day":
            DAY.convert(value, None, None)
        if kind == "walk-ins" and not Path(value).is_file():
            raise _refused(text, "there is no such file")
        wishes.append(Wish(text, kind, value))
    return wishes


def known_changes(wishes: Sequence[Wish], known: Known) -> list[Change]:
    """Each wish as a change; UsageError or InputError where lot, unit, file or day do not fit."""
    return [Change(wish.text, _KNOWN[wish.kind](wish, known)) for wish in wishes]


def differences(day: SessionDay, changes: Sequence[Change]) -> list[tuple[str, Difference]]:
    """(what was changed, what it does) for each change of a planned session."""
    return [(change.text, what_if(day.plan, change.apply(day))) for change in changes]


def _refused(text: str, why: str) -> click.UsageError:
    return click.UsageError(f'--what-if "{text}": {why}.')


def _vaccinators(wish: Wish, known: Known) -> Callable[[SessionDay], Session]:
    return lambda day: vaccinators(day.session, int(wish.value))


def _quarantine(wish: Wish, known: Known) -> Callable[[SessionDay], Session]:
    check_lot(known.shelf, wish.value)
    return lambda day: quarantine(day.session, wish.value)


def _lost_unit(wish: Wish, known: Known) -> Callable[[SessionDay], Session]:
    check_unit(known.shelf, wish.value)
    return lambda day: lose_unit(day.session, wish.value)


def _walk_ins(wish: Wish, known: Known) -> Callable[[SessionDay], Session]:
    result = born_by(read_records(Path(wish.value), known.on), known.on)
    show_faults(result.all_faults)
    if not result.children:
        raise _refused(wish.text, "no child was read from it")
    twice = {child.id for child in known.children} & {child.id for child in result.children}
    if twice:
        raise _refused(wish.text, f"{', '.join(sorted(twice))} stands on the roster already")
    return lambda day: walk_ins(
        day.session,
        [SessionChild(need=_need(day, child, known.on)) for child in result.children],
    )


def _day(wish: Wish, known: Known) -> Callable[[SessionDay], Session]:
    to = DAY.convert(wish.value, None, None).date()
    unborn = [child.name or child.id for child in known.children if child.born > to]
    if unborn:
        raise _refused(wish.text, f"{unborn[0]} is not yet born on that day")
    return lambda day: move_to(day.session, to, lambda child, on: _need(day, child, on))


def _need(day: SessionDay, child: Child, on: date) -> Need:
    return assess_child(child, on, day.edition).need


_KNOWN: dict[str, Callable[[Wish, Known], Callable[[SessionDay], Session]]] = {
    "vaccinators": _vaccinators,
    "quarantine": _quarantine,
    "lost-unit": _lost_unit,
    "walk-ins": _walk_ins,
    "day": _day,
}
