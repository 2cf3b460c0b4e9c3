"""Questions still open: those of which some answer could change what this child gets today.

Every answer is tried: the findings it would bring are set against the findings as they
stand. What would only add a reason to a group that is closed already is not asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from traywise.calendar import reached
from traywise.screening.facts import PRODUCT, Fact, facts_of_answer, implied
from traywise.screening.findings import Case, Finding, most_exact, spoken, weight_rules
from traywise.screening.question_rows import (
    UNKNOWN,
    QuestionRow,
    chosen,
    is_settled,
    question_rows,
)
from traywise.screening.rules import ScreeningRule, steroid_limit
from traywise.screening.steroids import weight_decides


class Question(msgspec.Struct, frozen=True, kw_only=True):
    """A screening question still unanswered and what it decides.

    answers       what may be answered; several: more than one, separated by commas
    would_change  what its answers would mean, in the words of the rules
    """

    key: str
    text: str
    groups: tuple[str, ...]
    answers: tuple[str, ...] = ("yes", "no", UNKNOWN)
    private: bool = False
    source: str = ""
    several: bool = False
    window: str = ""
    would_change: tuple[str, ...] = ()


def open_questions(
    case: Case,
    facts: Sequence[Fact],
    findings: Sequence[Finding],
    rules: Sequence[ScreeningRule],
) -> tuple[Question, ...]:
    """The open questions in the order of asking."""
    trial = Trial(case, facts, rules)
    out = []
    for row in question_rows().values():
        if is_settled(row, case.child.answers) or not _for_this_child(row, case, facts):
            continue
        changed = _changed_by(row, case, findings, trial)
        if changed:
            out.append(_question(row, changed))
    return tuple(out)


def _changed_by(
    row: QuestionRow, case: Case, findings: Sequence[Finding], trial: Trial
) -> Sequence[Finding | ScreeningRule]:
    """What the answer would bring, take away or settle; nothing: not worth asking."""
    if row.fills and getattr(case.child, row.fills) is not None:
        return ()
    if row.fills == "birth_weight_g":
        return [rule for rule in weight_rules(case) if set(rule.groups) & set(case.groups)]
    return _behind(row, case, findings) if row.after else trial.changed_by(row)


def _for_this_child(row: QuestionRow, case: Case, facts: Sequence[Fact]) -> bool:
    child, on = case.child, case.on
    if row.not_sex and child.sex == row.not_sex:
        return False
    if row.age_from is not None and not reached(child.born, row.age_from, on):
        return False
    if row.age_before is not None and reached(child.born, row.age_before, on):
        return False
    return all(any(f.key == key and f.holds(on) for f in facts) for key in row.needs)


def _behind(row: QuestionRow, case: Case, findings: Sequence[Finding]) -> list[Finding]:
    """For a follow-up: the findings of the question before it that its answer would settle."""
    before = chosen(question_rows()[row.after], case.child.answers) or ()
    if row.after_answers and not set(before) & set(row.after_answers):
        return []
    found = [f for f in findings if f.asked == row.after and f.kind != "not a reason"]
    if row.fills == "weight_kg" and not weight_decides(case.child):
        return []
    if row.fills or row.part.startswith("steroid"):
        return [f for f in found if f.condition == steroid_limit().unclear]
    return found


class Trial:
    """Tries answers against the findings as they stand; only rules they touch are asked again."""

    def __init__(self, case: Case, facts: Sequence[Fact], rules: Sequence[ScreeningRule]) -> None:
        self.case, self.facts, self.rules = case, facts, rules
        self.said = spoken(case, facts, rules)
        self.present = {f.key: f for f in most_exact(self.said)}
        self.now = _effect(case, most_exact(self.said))

    def changed_by(self, row: QuestionRow) -> list[Finding]:
        """Findings that some answer to the question would bring or take away."""
        changed: dict[str, Finding] = {}
        for answer in row.choices:
            more = implied(facts_of_answer(row, answer, self.case.child))
            then = self._with(more)
            if then is None or _effect(self.case, then) == self.now:
                continue
            keys = {f.key for f in then}
            changed |= {f.key: f for f in then if f not in self.present.values()}
            changed |= {key: f for key, f in self.present.items() if key not in keys}
        return [f for f in changed.values() if f.kind != "not a reason"]

    def _with(self, more: Sequence[Fact]) -> tuple[Finding, ...] | None:
        """The findings with more facts, None when no rule is touched."""
        keys = {fact.key for fact in more}
        touched = [rule for rule in self.rules if _touches(rule, keys)]
        if not touched:
            return None
        again = {rule.key for rule in touched}
        kept = [f for f in self.said if f.key not in again]
        return most_exact([*kept, *spoken(self.case, [*self.facts, *more], touched)])


def _touches(rule: ScreeningRule, keys: set[str]) -> bool:
    if rule.by in ("product", "product without wait"):
        return PRODUCT in keys
    return not keys.isdisjoint(rule.when) or not keys.isdisjoint(rule.unless)


def _effect(case: Case, findings: Iterable[Finding]) -> frozenset[object]:
    """What the findings mean for the tray, without what a closed group or product hides."""
    findings = [f for f in findings if f.kind != "not a reason"]
    groups = {g for f in findings if _closes(f) and not f.vaccines for g in f.groups}
    products = {key for f in findings if _closes(f) and not f.presentations for key in f.vaccines}
    products |= {v.key for v in case.vaccines if groups & set(v.groups)}
    seen: set[object] = {("closed", group) for group in groups}
    seen |= {("closed", product) for product in products}
    for f in findings:
        hidden = set(f.vaccines) <= products if f.vaccines else set(f.groups) <= groups
        if not hidden:
            seen.add((f.key, f.action, f.groups, f.vaccines, f.until))
    return frozenset(seen)


def _closes(finding: Finding) -> bool:
    """Whether it shuts its groups or products today with no known end."""
    lasting = finding.action in ("never", "switch") or finding.kind == "contraindication"
    return finding.blocks and lasting and finding.until is None


def _question(row: QuestionRow, changed: Sequence[Finding | ScreeningRule]) -> Question:
    return Question(
        key=row.key,
        text=row.text,
        groups=tuple(dict.fromkeys(group for f in changed for group in f.groups)),
        answers=(*row.choices, UNKNOWN),
        private=row.private,
        source=row.source,
        several=row.kind == "several",
        window=row.window,
        would_change=tuple(dict.fromkeys(f.text for f in changed)),
    )
