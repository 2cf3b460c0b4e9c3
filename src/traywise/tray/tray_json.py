"""A composed visit as one JSON line: the answer's shape with the tray added."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from traywise.errors import Fault
from traywise.schedule.answer_json import answer_object
from traywise.tray.compose import Visit


def visit_line(visit: Visit, faults: Sequence[Fault] = ()) -> bytes:
    """One line, with the faults of the record, shelf and supplies it was made from."""
    return msgspec.json.encode(visit_object(visit, faults)) + b"\n"


def visit_object(visit: Visit, faults: Sequence[Fault] = ()) -> dict[str, object]:
    """The visit as plain objects."""
    shown = answer_object(visit.answer, faults)
    shown["errors"] = [*shown["errors"], *(fault for fault in faults if fault.is_error)]
    return {
        **shown,
        "state": visit.tray.state,
        "tray": visit.tray.tray,
        "not_today": visit.tray.not_today,
        "questions": visit.tray.questions,
        "supplies": visit.tray.supplies,
        "cautions": visit.tray.cautions,
        "reach": visit.tray.reach,
        "afterwards": visit.tray.afterwards,
        "needle_policy": visit.tray.needle_policy,
    }
