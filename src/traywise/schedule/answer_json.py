"""The answer as one JSON line, in the shape that other programs rely on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import msgspec

from traywise.errors import Fault
from traywise.schedule.answer import Answer, GroupForecast

_ENCODER = msgspec.json.Encoder()


def answer_line(answer: Answer, faults: Sequence[Fault] = (), *, why: bool = False) -> bytes:
    """One line: the answer, and the faults of the record it was read from."""
    return _ENCODER.encode(answer_object(answer, faults, why=why)) + b"\n"


def answer_object(
    answer: Answer, faults: Sequence[Fault] = (), *, why: bool = False
) -> dict[str, Any]:
    """The answer as plain objects. Groups in the order of the edition."""
    warnings = [*answer.warnings, *(fault for fault in faults if not fault.is_error)]
    return {
        "id": answer.id,
        "assess_on": answer.assess_on,
        "edition": answer.edition,
        "doses": answer.doses,
        "groups": {key: _group(one, why) for key, one in answer.groups.items()},
        "errors": answer.errors,
        "warnings": list(dict.fromkeys(warnings)),
    }


def _group(one: GroupForecast, why: bool) -> dict[str, Any]:
    shown: dict[str, Any] = {
        "status": one.status,
        "next_dose": one.next_dose,
        "earliest": one.earliest,
        "due": one.due,
        "overdue": one.overdue,
        "latest": one.latest,
        "row": one.row,
        "why": one.why,
        "source": one.source,
        "products": one.products,
        "valid_doses": one.valid_doses,
        "unconfirmed": one.unconfirmed,
    }
    if one.until is not None:
        shown["until"] = one.until
    if why:
        shown["chain"] = one.chain
    return shown


def unanswered_line(
    child_id: str | None, on: date | None, edition: str, faults: Sequence[Fault]
) -> bytes:
    """One line for a child that could not be answered: its errors say why."""
    return (
        _ENCODER.encode(
            {
                "id": child_id,
                "assess_on": on,
                "edition": edition,
                "doses": [],
                "groups": {},
                "errors": [fault for fault in faults if fault.is_error],
                "warnings": [fault for fault in faults if not fault.is_error],
            }
        )
        + b"\n"
    )
