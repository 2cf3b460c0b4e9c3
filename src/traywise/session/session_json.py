"""A planned session as plain objects: each child's visit, then what the clinic prepares."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from traywise.errors import Fault
from traywise.session.day import SessionDay
from traywise.tray.tray_json import visit_object


def session_object(day: SessionDay, faults: Sequence[Fault] = ()) -> dict[str, Any]:
    """Children in order with the contract's tray shape; then pick list, timeline and the rest.

    faults  of the roster, the shelf and the supplies
    """
    plan = day.plan
    return {
        "on": day.on,
        "edition": day.edition,
        "start": plan.start,
        "end": plan.end,
        "finish": plan.finish,
        "children": [
            {"at": planned.at, "name": planned.name, **visit_object(visit)}
            for planned, visit in zip(plan.visits, day.visits, strict=True)
        ],
        "doses": plan.doses,
        "injections": plan.injections,
        "missed": plan.missed,
        "pick_list": plan.pick_list,
        "timeline": plan.timeline,
        "leftovers": plan.leftovers,
        "expiring": plan.expiring,
        "reorder": plan.reorder,
        "weights": day.session.weights,
        "stages": plan.stages,
        "one_by_one": plan.one_by_one,
        "proven": plan.proven,
        "gap": plan.gap,
        "seconds": plan.seconds,
        "errors": [fault for fault in faults if fault.is_error],
        "warnings": [fault for fault in faults if not fault.is_error],
    }
