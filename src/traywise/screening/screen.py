"""Screening of one child on one day: findings, and the questions that are still open."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

import msgspec

from traywise.errors import Fault
from traywise.record.child import Child
from traywise.rulebook.antibody_products import antibody_products
from traywise.rulebook.conditions import conditions
from traywise.rulebook.vaccines import Vaccine
from traywise.screening.facts import facts_of
from traywise.screening.findings import Case, findings_of, relevant_rules
from traywise.screening.open_questions import open_questions
from traywise.screening.question_rows import (
    QuestionRow,
    answer_text,
    chosen,
    is_settled,
    number_given,
    question_rows,
)
from traywise.screening.verdicts import Screening


def screen(child: Child, on: date, groups: Iterable[str], vaccines: Sequence[Vaccine]) -> Screening:
    """What stands against the groups and products, and what must still be asked.

    child     conditions, answers, products and doses of the record
    groups    groups that are due or otherwise asked about
    vaccines  products that could serve them: of the shelf, or all of the rulebook
    source    each finding and each question carries its own
    """
    child = with_measures(child)
    case = Case(child, on, tuple(groups), tuple(vaccines))
    rules = relevant_rules(case)
    facts = facts_of(child, on)
    findings = findings_of(case, facts, rules)
    return Screening(
        on=on,
        groups=case.groups,
        vaccines=case.vaccines,
        findings=findings,
        questions=open_questions(case, facts, findings, rules),
        faults=tuple(not_understood(child)),
    )


def with_measures(child: Child) -> Child:
    """The child with a weight from the answers where the record has none."""
    for row in question_rows().values():
        value = number_given(row, child.answers) if row.fills else None
        if value and row.fills == "birth_weight_g" and child.birth_weight_g is None:
            child = msgspec.structs.replace(child, birth_weight_g=round(value))
        elif value and row.fills == "weight_kg" and child.weight_kg is None:
            child = msgspec.structs.replace(child, weight_kg=value)
    return child


def not_understood(child: Child) -> list[Fault]:
    """Warnings for what the record says in words that the tables do not know."""
    faults = [
        Fault(
            "screening.W001",
            f"conditions, {condition.key}",
            f'"{condition.key}" is not a condition key, so no rule could use it. '
            "Take one of the keys in conditions.toml.",
        )
        for condition in child.conditions
        if condition.key not in conditions()
    ]
    faults += [
        Fault(
            "screening.W002",
            f"products, {received.on}",
            f'"{received.kind}" is not in the interval table; the longest interval is kept '
            "until the product is known.",
        )
        for received in child.products
        if received.kind not in antibody_products()
    ]
    for row in question_rows().values():
        faults += _answer_faults(row, child)
    return faults


def _answer_faults(row: QuestionRow, child: Child) -> list[Fault]:
    given = answer_text(child.answers.get(row.key))
    understood = is_settled(row, child.answers) or chosen(row, child.answers) is not None
    if given is None or understood:
        return []
    return [
        Fault(
            "screening.W003",
            f"answers, {row.key}",
            f'"{given}" is no answer to this question, so it stays open. '
            f"Answer with one of: {', '.join((*row.choices, 'unknown'))}.",
        )
    ]
