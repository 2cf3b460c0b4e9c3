"""The schedule's answer for one child, kept until something of the child changes."""

from __future__ import annotations

from datetime import date

from django.conf import settings

from traywise.schedule.answer import Answer
from traywise.screening.answer_for import answer_for as ask
from traywise.workbench.asking.history import stamp_of, whole_child
from traywise.workbench.asking.memory import Memory
from traywise.workbench.children.models import ChildRecord

_kept: Memory[Answer] = Memory(4000)


def answer_for(record: ChildRecord, on: date, *, why: bool = False) -> Answer:
    """What counted, what is due, what comes next."""
    key = f"{stamp_of(record)}|{on}|{settings.EDITION}|{why}"
    return _kept.get(key, lambda: ask(whole_child(record), settings.EDITION, on, why=why))
