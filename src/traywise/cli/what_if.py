"""``traywise session --what-if``: the same session with one thing changed, in plain words."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

import click

from traywise.cli.input import born_by, read_records, show_faults
from traywise.cli.option_types import DAY
from traywise.record.child import Child
from traywise.session.day import SessionDay
from traywise.session.request import Session, SessionChild
from traywise.session.roster import assess_child
from traywise.session.whatif import (
    Difference,
    lose_unit,
    move_to,
    quarantine,
    vaccinators,
    walk_ins,
    what_if,
)
from traywise.tray.need import Need

KINDS = "vaccinators=-1, quarantine=LOT, lost-unit=UNIT, walk-ins=FILE, day=YYYY-MM-DD"


def differences(day: SessionDay, wishes: tuple[str, ...]) -> list[tuple[str, Difference]]:
    """(what was changed, what it does) for each wish; raises UsageError for one not understood."""
    return [(wish, what_if(day.plan, _changed(day, wish))) for wish in wishes]


def _changed(day: SessionDay, wish: str) -> Session:
    kind, sign, value = wish.partition("=")
    change = _CHANGES.get(kind)
    if change is None or not sign or not value:
        raise click.UsageError(f'--what-if "{wish}" is not understood. Write one of: {KINDS}.')
    try:
        return change(day, value)
    except ValueError as error:
        raise click.UsageError(f'--what-if "{wish}": {error}.') from None


def _vaccinators(day: SessionDay, value: str) -> Session:
    if re.fullmatch(r"[+-]?[0-9]{1,4}", value) is None:
        raise ValueError(f'"{value}" is not a whole number, such as -1')
    return vaccinators(day.session, int(value))


def _quarantine(day: SessionDay, value: str) -> Session:
    return quarantine(day.session, value)


def _lost_unit(day: SessionDay, value: str) -> Session:
    return lose_unit(day.session, value)


def _walk_ins(day: SessionDay, value: str) -> Session:
    result = born_by(read_records(Path(value), day.on), day.on)
    show_faults(result.all_faults)
    return walk_ins(
        day.session,
        [SessionChild(need=_need(day, child, day.on)) for child in result.children],
    )


def _day(day: SessionDay, value: str) -> Session:
    to = DAY.convert(value, None, None).date()
    return move_to(day.session, to, lambda child, on: _need(day, child, on))


def _need(day: SessionDay, child: Child, on: date) -> Need:
    return assess_child(child, on, day.edition).need


_CHANGES: dict[str, Callable[[SessionDay, str], Session]] = {
    "vaccinators": _vaccinators,
    "quarantine": _quarantine,
    "lost-unit": _lost_unit,
    "walk-ins": _walk_ins,
    "day": _day,
}
