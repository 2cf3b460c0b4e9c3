"""How a screening question is put: buttons, ticks, a date or a number, by its kind."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from traywise.screening.question_rows import question_rows
from traywise.tray.plan import OpenQuestion
from traywise.workbench.day.models import Appointment

PLAIN = ("no", "unknown")  # offered as buttons beside a date, a number or ticks
MOST_BUTTONS = 6


class Asked(NamedTuple):
    """A question as the form shows it.

    way  buttons, ticks, list, date or number
    """

    key: str
    text: str
    groups: tuple[str, ...]
    private: bool
    way: str
    choices: tuple[str, ...]
    plain: tuple[str, ...]
    source: str


def asked_as(question: OpenQuestion) -> Asked:
    """The form of one open question."""
    row = question_rows().get(question.key)
    kind = row.kind if row else "choice"
    choices = tuple(a for a in question.answers if a not in ("YYYY-MM-DD", "a number"))
    plain = tuple(word for word in PLAIN if word in question.answers)
    way = {"date": "date", "number": "number", "several": "ticks"}.get(kind, "buttons")
    if way == "buttons" and len(choices) > MOST_BUTTONS:
        way = "list"
    if way != "buttons":
        choices = tuple(choice for choice in choices if choice not in plain)
    return Asked(
        question.key,
        question.text,
        question.groups,
        question.private,
        way,
        choices,
        plain if way != "buttons" else (),
        question.source,
    )


def may_all_be_no(questions: Sequence[OpenQuestion]) -> list[OpenQuestion]:
    """The questions to which a plain no is an answer; two of them make it worth one press."""
    found = [question for question in questions if "no" in question.answers]
    return found if len(found) > 1 else []


def answered_at(visit: Appointment) -> list[dict[str, Any]]:
    """The latest answer to each question of this visit, each with the form to answer it again."""
    latest = {answer.question: answer for answer in visit.answers.all()}
    found = []
    for key, answer in reversed(latest.items()):
        row = question_rows().get(key)
        question = OpenQuestion(
            key=key,
            text=answer.text,
            groups=(),
            answers=(*row.choices, "unknown") if row else ("yes", "no", "unknown"),
        )
        found.append({"answer": answer, "asked": asked_as(question)})
    return found
