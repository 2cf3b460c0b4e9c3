"""A child as the rooms need it: the record, the doses given here, the answers of today."""

from __future__ import annotations

from datetime import date

import msgspec

from traywise.record.child import Child
from traywise.workbench.children.models import ChildRecord
from traywise.workbench.day.models import Appointment
from traywise.workbench.ledger.effects import doses_given_here


def whole_child(record: ChildRecord, visit: Appointment | None = None) -> Child:
    """The child with what the ledger and this visit's screening add."""
    child = record.read()
    here = doses_given_here(record.entries.all())
    answers = dict(child.answers)
    if visit is not None:
        answers |= {answer.question: answer.answer for answer in visit.answers.all()}
    return msgspec.structs.replace(child, doses=_merge(child.doses, here), answers=answers)


def _merge(recorded: tuple, here: tuple) -> tuple:  # type: ignore[type-arg]
    """A dose that came back to us in an imported record is not counted twice."""
    known = {(dose.on, dose.cvx, (dose.lot or "").casefold()) for dose in recorded}
    return recorded + tuple(
        dose for dose in here if (dose.on, dose.cvx, (dose.lot or "").casefold()) not in known
    )


def before_today(child: Child, day: date) -> Child:
    """The same child without the doses of that day: what a tray laid this morning stood on."""
    return msgspec.structs.replace(
        child, doses=tuple(dose for dose in child.doses if dose.on != day)
    )


def stamp_of(record: ChildRecord, visit: Appointment | None = None) -> str:
    """Changes whenever the child's answer could: record, ledger and screening in one text.

    Numbers alone would come again after a restore; days and keys do not.
    """
    entry = max(((one.number, one.key) for one in record.entries.all()), default=(0, ""))
    last = (0, "")
    if visit is not None:
        last = max(((a.pk, a.at.isoformat()) for a in visit.answers.all()), default=last)
    return f"{record.pk}.{record.version}.{record.updated_at.isoformat()}.{entry}.{last}"
