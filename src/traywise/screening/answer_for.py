"""The schedule's answer for a child with the screening laid over it: the one that people see."""

from __future__ import annotations

from datetime import date

from traywise.record.child import Child
from traywise.rulebook.vaccines import vaccines
from traywise.schedule.answer import Answer
from traywise.schedule.assess import assess
from traywise.screening.apply import apply
from traywise.screening.screen import screen


def answer_for(child: Child, edition: str, on: date, *, why: bool = False) -> Answer:
    """What counts and what comes next, contraindications and reasons to wait included.

    Every product of the rulebook is looked at: a group is barred only when nothing serves.
    """
    answer = assess(child, edition, on, why=why)
    if on < child.born or (not child.conditions and not child.answers and not child.products):
        return answer
    screening = screen(child, on, tuple(answer.groups), tuple(vaccines().values()))
    return apply(answer, screening)
