"""The whole answer to "what lies on the shelf": states, doses, faults, children; and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import msgspec

from traywise.errors import Fault
from traywise.session.use_first import CouldUse
from traywise.shelf.overview import DosesAtHand, LotState, doses_at_hand
from traywise.shelf.read_csv import SetAside


class ShelfReport(msgspec.Struct, frozen=True, kw_only=True):
    """A shelf on a day; ``faults`` are those of its file, ``record_faults`` of the children.

    states    each lot, what ends soonest first
    children  for each lot that ends soon, by its key, who could have a dose of it; None: no
              children were given, or none could be read
    """

    on: date
    within_days: int
    states: tuple[LotState, ...]
    children: dict[tuple[str, ...], tuple[CouldUse, ...]] | None = None
    set_aside: tuple[SetAside, ...] = ()
    faults: tuple[Fault, ...] = ()
    record_faults: tuple[Fault, ...] = ()

    @property
    def until(self) -> date:
        """The last day that counts as soon."""
        return self.on + timedelta(days=self.within_days)

    @property
    def doses(self) -> tuple[DosesAtHand, ...]:
        """Doses by product and funding."""
        return doses_at_hand(self.states)

    def who(self, state: LotState) -> tuple[CouldUse, ...]:
        """Children who could have a dose of a lot."""
        return (self.children or {}).get(state.lot.key, ())

    def left_over(self, state: LotState) -> int | None:
        """Doses of a lot that find no child, at least; None where no children were given."""
        return None if self.children is None else max(0, state.lot.doses - len(self.who(state)))


def shelf_object(report: ShelfReport) -> dict[str, Any]:
    """The report as plain objects."""
    faults = (*report.faults, *report.record_faults)
    return {
        "on": report.on,
        "within_days": report.within_days,
        "until": report.until,
        "lots": [_lot_object(report, one) for one in report.states],
        "doses": report.doses,
        "set_aside": [{"at": line.at, "cells": line.cells} for line in report.set_aside],
        "errors": [fault for fault in faults if fault.is_error],
        "warnings": [fault for fault in faults if not fault.is_error],
    }


def _lot_object(report: ShelfReport, one: LotState) -> dict[str, Any]:
    lot = one.lot
    known: Sequence[CouldUse] | None = report.who(one) if one.soon else None
    return {
        "lot": lot.lot,
        "cvx": lot.cvx,
        "vaccine": lot.product.key if lot.product else None,
        "presentation": lot.presentation,
        "doses": lot.doses,
        "funding": lot.funding,
        "unit": lot.unit,
        "expires": lot.expires,
        "opened_at": lot.opened_at,
        "ends_at": one.ends_at,
        "last_day": one.last_day,
        "days_left": None if one.last_day is None else (one.last_day - report.on).days,
        "state": one.state,
        "ends_soon": one.soon,
        "why": one.why or None,
        "children": None if report.children is None else known,
        "left_over": report.left_over(one) if one.soon else None,
    }
