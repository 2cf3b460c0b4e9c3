"""Short words for schedule tests: children, doses and days without ceremony."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from traywise.calendar import Span, add, parse_span
from traywise.record.child import Child, Condition, CvxCode, DoseGiven
from traywise.schedule.answer import Answer
from traywise.schedule.assess import assess

# One CVX code that serves each group alone.
CVX = {
    "HepB": "08",
    "RV": "116",
    "DTaP": "20",
    "Hib": "48",
    "PCV": "216",
    "IPV": "10",
    "Flu": "140",
    "MMR": "03",
    "VAR": "21",
    "HepA": "83",
    "HPV": "165",
    "MenACWY": "203",
    "MenB": "162",
}


def day(text: str) -> date:
    return date.fromisoformat(text)


def at(born: date, age: str | Span, days: int = 0) -> date:
    """The day an age is reached, plus days."""
    span = parse_span(age) if isinstance(age, str) else age
    return add(born, span) + timedelta(days=days)


def child(
    born: date,
    doses: Sequence[tuple[date, str]] = (),
    *,
    sex: str | None = "F",
    conditions: Sequence[str] = (),
    **known: int,
) -> Child:
    """A child with doses as (day, CVX)."""
    return Child(
        id="test",
        born=born,
        sex=sex,
        doses=tuple(DoseGiven(on=on, cvx=CvxCode(cvx)) for on, cvx in doses),
        conditions=tuple(Condition(key=key) for key in conditions),
        **known,
    )


def ask(
    born: date,
    doses: Sequence[tuple[date, str]],
    on: date,
    *,
    edition: str = "us-2025",
    sex: str | None = "F",
    conditions: Sequence[str] = (),
    **known: int,
) -> Answer:
    """The schedule's answer."""
    return assess(child(born, doses, sex=sex, conditions=conditions, **known), edition, on)


def verdicts(answer: Answer, group: str) -> list[str]:
    """The verdicts of a group, dose by dose in record order."""
    return [dose.groups[group].status for dose in answer.doses if group in dose.groups]
