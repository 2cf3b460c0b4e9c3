"""Screening questions as data, and what a recorded answer to one means.

An answer is text, number or yes/no as the record holds it. ``chosen`` turns it into
the answers of the row; "unknown" and no answer are the same: the question stays open.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from functools import cache
from typing import Literal

import msgspec

from traywise.calendar import Span
from traywise.errors import Fault
from traywise.rulebook.antibody_products import antibody_products
from traywise.rulebook.conditions import conditions
from traywise.rulebook.tables import EDITIONS, load_table, place, require

UNKNOWN = "unknown"
AnswerValue = str | int | float | bool


class QuestionRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One question; the head of the table explains the fields."""

    key: str
    text: str
    window: str = ""
    kind: Literal["choice", "several", "date", "number"] = "choice"
    answers: tuple[str, ...] = ()
    answers_from: Literal["", "antibody-products"] = ""
    sets: dict[str, tuple[str, ...]] = {}
    needs: tuple[str, ...] = ()
    after: str = ""
    after_answers: tuple[str, ...] = ()
    fills: Literal["", "birth_weight_g", "weight_kg"] = ""
    part: Literal["", "since", "until", "steroid dose", "steroid days"] = ""
    age_from: Span | None = None
    age_before: Span | None = None
    not_sex: str = ""
    private: bool = False
    source: str

    @property
    def choices(self) -> tuple[str, ...]:
        """The answers offered, "unknown" aside."""
        if self.kind == "date":
            return ("YYYY-MM-DD", "no")
        if self.kind == "number":
            return ("a number",)
        further = tuple(antibody_products()) if self.answers_from else ()
        return (*self.answers, *further)


@cache
def question_rows() -> dict[str, QuestionRow]:
    """All questions by key, in the order of asking; raises RulebookError for bad data."""
    rows = load_table("questions", QuestionRow)
    return {row.key: row for row in require(rows, question_faults(rows))}


def question_faults(rows: Iterable[QuestionRow]) -> list[Fault]:
    """Faults that show only when questions and condition keys are seen together."""
    rows = tuple(rows)
    keys = {row.key for row in rows}
    path = EDITIONS / "tables" / "questions.toml"
    faults = []
    for row in rows:
        where = f'row "{row.key}"'
        named = (*row.needs, *(key for found in row.sets.values() for key in found))
        faults += [
            Fault(
                "rulebook.E034", place(path, where), f'"{key}" is not a condition key. Correct it.'
            )
            for key in named
            if key not in conditions()
        ]
        faults += [
            Fault(
                "rulebook.E035",
                place(path, where),
                f'"{answer}" is set but not offered. Add it to answers.',
            )
            for answer in row.sets
            if answer not in (*row.answers, "yes", "no")
        ]
        if row.after and row.after not in keys:
            said = f'It follows "{row.after}", no question.'
            faults.append(Fault("rulebook.E036", place(path, where), said))
    return faults


def chosen(row: QuestionRow, answers: Mapping[str, AnswerValue]) -> tuple[str, ...] | None:
    """The answers given to a question of choice; None while it is open or not understood."""
    text = answer_text(answers.get(row.key))
    if text is None:
        return None
    parts = text.split(",") if row.kind == "several" else [text]
    by_name = {name.casefold(): name for name in (*row.choices, *row.sets, "no")}
    found = [by_name.get(part.strip().casefold()) for part in parts]
    if any(part is None for part in found):
        return None
    return tuple(part for part in found if part is not None)


def is_settled(row: QuestionRow, answers: Mapping[str, AnswerValue]) -> bool:
    """Whether the answer leaves nothing to ask. A bare "yes" does not say which of several."""
    if row.kind == "date":
        return date_given(row, answers) is not None or _says_no(row, answers)
    if row.kind == "number":
        return number_given(row, answers) is not None
    found = chosen(row, answers)
    vague = row.kind == "several" or row.answers_from
    return found is not None and not (vague and "yes" in found)


def date_given(row: QuestionRow, answers: Mapping[str, AnswerValue]) -> date | None:
    """The day answered, None when there is none."""
    try:
        return date.fromisoformat(answer_text(answers.get(row.key)) or "")
    except ValueError:
        return None


def number_given(row: QuestionRow, answers: Mapping[str, AnswerValue]) -> float | None:
    """The number answered, None when there is none; yes and no are no numbers."""
    value = answers.get(row.key)
    if value is None or isinstance(value, bool):
        return None
    try:
        number = float(value)
    except ValueError:
        return None
    return number if number >= 0 else None


def answer_text(value: AnswerValue | None) -> str | None:
    """An answer as text; None for no answer and for "unknown".

    >>> answer_text(True), answer_text("Unknown"), answer_text(" mild ")
    ('yes', None, 'mild')
    """
    if value is None:
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = str(value).strip()
    return None if text.casefold() in ("", UNKNOWN) else text


def _says_no(row: QuestionRow, answers: Mapping[str, AnswerValue]) -> bool:
    return (answer_text(answers.get(row.key)) or "").casefold() == "no"
