"""Hand-worked cases: a child, a day and what a clinician worked out on paper.

One TOML file per group. The keys are closed: a misspelt one is refused, so that no
expectation is silently skipped. ``status`` may name two ("due or overdue") where the
published text leaves the line between them open; what a case does not name is not judged.
"""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path

import msgspec

from traywise.record.child import Child, Condition, CvxCode, DoseGiven, ProductReceived
from traywise.schedule.answer import STATUSES, Answer, GroupForecast

FOLDER = Path(__file__).resolve().parent
FINISHED = ("complete", "immune", "aged out", "not recommended")


class Expected(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What one group must answer. ``serves``: a vaccine that may (not) be the next dose."""

    verdicts: tuple[str, ...] | None = None
    status: str | None = None
    next_dose: int | None = None
    earliest: date | None = None
    due: date | None = None
    latest: date | None = None
    serves: str | None = None
    serves_not: str | None = None

    @property
    def statuses(self) -> tuple[str, ...]:
        return () if self.status is None else tuple(self.status.split(" or "))


class Case(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One child on one day. ``worked`` shows the dates counted by hand."""

    name: str
    born: date
    on: date
    worked: str
    source: str
    expect: dict[str, Expected]
    sex: str = "F"
    conditions: tuple[str, ...] = ()
    dated: tuple[Condition, ...] = ()  # conditions with their days
    campaign: tuple[date, ...] = ()  # days of doses recorded as given in a campaign
    birth_weight_g: int | None = None
    gestation_weeks: int | None = None
    doses: tuple[tuple[date, str], ...] = ()
    products: tuple[tuple[date, str], ...] = ()

    def child(self) -> Child:
        return Child(
            id=self.name,
            born=self.born,
            sex=self.sex,
            birth_weight_g=self.birth_weight_g,
            gestation_weeks=self.gestation_weeks,
            conditions=(*(Condition(key=key) for key in self.conditions), *self.dated),
            doses=tuple(
                DoseGiven(on=on, cvx=CvxCode(cvx), campaign=on in self.campaign or None)
                for on, cvx in self.doses
            ),
            products=tuple(ProductReceived(on=on, kind=kind) for on, kind in self.products),
        )


class CaseFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    case: tuple[Case, ...]


def read_cases() -> list[Case]:
    """Every case of the folder; raises with the file's name when one cannot be read."""
    cases: list[Case] = []
    for path in sorted(FOLDER.glob("*.toml")):
        try:
            raw = tomllib.loads(path.read_text(encoding="utf-8"))
            cases += msgspec.convert(raw, CaseFile).case
        except (tomllib.TOMLDecodeError, msgspec.ValidationError) as fault:
            raise ValueError(f"{path.name}: {fault}") from fault
    return cases


def badly_written(case: Case) -> list[str]:
    """Words in the expectations that no answer could ever hold."""
    faults = []
    for group, expected in case.expect.items():
        faults += [f"{group}: no such status: {s}" for s in expected.statuses if s not in STATUSES]
        faults += [
            f"{group}: no such verdict: {v}"
            for v in expected.verdicts or ()
            if v not in ("valid", "not valid", "extra")
        ]
    return faults


def _verdicts_differ(group: str, expected: Expected, answer: Answer) -> list[str]:
    judged = [(dose, dose.groups[group]) for dose in answer.doses if group in dose.groups]
    if expected.verdicts is None:
        return []
    if len(expected.verdicts) != len(judged):
        return [f"{group}: {len(expected.verdicts)} doses expected, {len(judged)} judged"]
    return [
        f"{group}, dose of {dose.on} (CVX {dose.cvx}): expected {wanted}, came {came.status}"
        f" (row {came.row}; {came.reason})"
        for wanted, (dose, came) in zip(expected.verdicts, judged, strict=True)
        if wanted != came.status
    ]


def _forecast_differs(group: str, expected: Expected, came: GroupForecast) -> list[str]:
    said = f"(row {came.row}; {came.why})"
    differ = []
    if expected.status is not None and came.status not in expected.statuses:
        differ.append(f"{group}, status: expected {expected.status}, came {came.status} {said}")
    if expected.statuses and set(expected.statuses) <= set(FINISHED) and came.due is not None:
        differ.append(f"{group}: no next dose expected, came one due {came.due} {said}")
    for key in ("next_dose", "earliest", "due", "latest"):
        wanted, got = getattr(expected, key), getattr(came, key)
        if wanted is not None and wanted != got:
            differ.append(f"{group}, {key}: expected {wanted}, came {got} {said}")
    if expected.serves is not None and expected.serves not in came.products:
        differ.append(f"{group}: {expected.serves} expected among {came.products} {said}")
    if expected.serves_not is not None and expected.serves_not in came.products:
        differ.append(f"{group}: {expected.serves_not} must not be among {came.products} {said}")
    return differ


def differences(case: Case, answer: Answer) -> list[str]:
    """Where the answer is not what was worked out by hand, a line each."""
    lines = []
    for group, expected in case.expect.items():
        lines += _verdicts_differ(group, expected, answer)
        lines += _forecast_differs(group, expected, answer.groups[group])
    return lines


def told(case: Case, lines: list[str]) -> str:
    """A failure as a clinician can read it."""
    return "\n".join(
        [
            "",
            case.name,
            f"  born {case.born}, asked on {case.on}"
            + (f", conditions: {', '.join(case.conditions)}" if case.conditions else ""),
            *(f"  given {on}: CVX {cvx}" for on, cvx in case.doses),
            *(f"  received {on}: {kind}" for on, kind in case.products),
            *(f"  * {line}" for line in lines),
            "  worked by hand: " + " ".join(case.worked.split()),
            f"  source: {case.source}",
        ]
    )
