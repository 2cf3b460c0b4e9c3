"""What is known of a child that a screening rule can be about, with its days.

Record, answers and doses are turned into one kind of thing, a fact: a condition key
with its first and last day. The rules see facts only.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import msgspec

from traywise.record.child import Child
from traywise.rulebook.antibody_products import antibody_products
from traywise.rulebook.codes import cvx_codes
from traywise.rulebook.conditions import conditions, with_implied
from traywise.screening.question_rows import (
    QuestionRow,
    chosen,
    date_given,
    question_rows,
)
from traywise.screening.steroids import refined


class Fact(msgspec.Struct, frozen=True):
    """A condition that holds from ``since`` until ``until``, both included; None: not known.

    origin  the key it was implied by, or its own
    asked   the question whose answer brought it up, "" for the record
    product kind of the antibody product received, "" for any other fact
    """

    key: str
    since: date | None = None
    until: date | None = None
    origin: str = ""
    asked: str = ""
    product: str = ""

    def begun(self, on: date) -> bool:
        """Whether it has begun by that day."""
        return self.since is None or self.since <= on

    def holds(self, on: date) -> bool:
        """Whether it holds on that day."""
        return self.begun(on) and (self.until is None or on <= self.until)


PRODUCT = "antibody product"
LIVE_DOSE = "live-vaccine-recent"
UNKNOWN_PRODUCT = "antibody-product-recent"


def facts_of(child: Child, on: date) -> tuple[Fact, ...]:
    """All facts of the child up to ``on``, implied ones included."""
    found = [Fact(c.key, c.since, c.until) for c in child.conditions]
    found += _live_doses(child, on)
    for received in child.products:
        if received.on <= on:
            found.append(product_fact(received.kind, received.on, ""))
    for row in question_rows().values():
        for answer in chosen(row, child.answers) or ():
            found += facts_of_answer(row, answer, child)
    return tuple(implied(found))


def facts_of_answer(row: QuestionRow, answer: str, child: Child) -> list[Fact]:
    """The facts that one answer to one question brings up, with the days of its follow-ups."""
    since, until = _days(row, answer, child)
    if row.answers_from and answer not in row.sets and answer != "no":
        return [product_fact(answer, until, row.key)]
    keys = (refined(key, child) for key in row.sets.get(answer, ()))
    return [Fact(key, since, until, asked=row.key) for key in keys]


def product_fact(kind: str, on: date | None, asked: str) -> Fact:
    """An antibody product received; the day is its last day. Of an unknown kind: just any."""
    if kind not in antibody_products():
        return Fact(UNKNOWN_PRODUCT, on, on, asked=asked)
    return Fact(PRODUCT, on, on, asked=asked, product=kind)


def implied(facts: Iterable[Fact]) -> list[Fact]:
    """The facts and those their keys imply, each with the same days."""
    known = conditions()
    out = []
    for fact in facts:
        keys = with_implied([fact.key]) if fact.key in known else {fact.key}
        out += [
            msgspec.structs.replace(fact, key=key, origin=fact.key)
            for key in sorted(keys, key=lambda key: key != fact.key)
        ]
    return out


def _days(row: QuestionRow, answer: str, child: Child) -> tuple[date | None, date | None]:
    days: dict[str, date | None] = {}
    for follow in question_rows().values():
        follows = follow.after == row.key and follow.part in ("since", "until")
        if follows and (not follow.after_answers or answer in follow.after_answers):
            days[follow.part] = date_given(follow, child.answers)
    return days.get("since"), days.get("until")


def _live_doses(child: Child, on: date) -> list[Fact]:
    """Each live dose of the record, injected or nasal, as a fact of one day."""
    codes = cvx_codes()
    found = []
    for dose in child.doses:
        entry = codes.get(dose.cvx)
        if entry and entry.live and (dose.route or entry.route) != "PO" and dose.on < on:
            found.append(Fact(LIVE_DOSE, dose.on, dose.on))
    return found
