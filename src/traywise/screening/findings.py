"""From facts and rules to findings: what may not be given, to whom it waits, what to weigh.

A rule speaks when one of its facts holds (or its wait is not over), the child is
within its limits and it touches a group or product that was asked about.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

import msgspec

from traywise.calendar import Span, add, reached
from traywise.record.child import Child
from traywise.rulebook.antibody_products import antibody_products
from traywise.rulebook.codes import cvx_codes
from traywise.rulebook.conditions import conditions
from traywise.rulebook.vaccines import Vaccine
from traywise.screening.facts import PRODUCT, Fact
from traywise.screening.rules import ScreeningRule, screening_rules
from traywise.screening.targets import target_of

BLOCKING = ("never", "defer", "switch")


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """One reason of the child's own: not to give, to wait, to choose, to weigh, to take care.

    kind      contraindication, precaution, care, not a reason
    action    never, defer, switch, ask, give
    groups    groups it touches, of those asked about
    vaccines  keys of the products it touches; empty: all of the groups
    presentations  product -> presentations it touches, when it is not the whole product
    until     first day on which it no longer stands in the way; None: not known or no end
    why       what was found in the record or the answers
    asked     the question whose answer brought it up, "" for the record
    """

    key: str
    kind: str
    action: str
    groups: tuple[str, ...]
    vaccines: tuple[str, ...] = ()
    presentations: dict[str, tuple[str, ...]] = {}
    until: date | None = None
    until_text: str = ""
    text: str
    why: str
    source: str
    condition: str = ""
    origin: str = ""
    asked: str = ""

    @property
    def blocks(self) -> bool:
        """Whether it keeps products off today's tray."""
        return self.action in BLOCKING and self.kind != "not a reason"


class Case(msgspec.Struct, frozen=True):
    """The child, the day, and what is asked about."""

    child: Child
    on: date
    groups: tuple[str, ...]
    vaccines: tuple[Vaccine, ...]


def findings_of(
    case: Case, facts: Sequence[Fact], rules: Iterable[ScreeningRule]
) -> tuple[Finding, ...]:
    """All findings of the rules (see ``relevant_rules``), in their order, each once."""
    return most_exact(spoken(case, facts, rules))


def spoken(
    case: Case, facts: Sequence[Fact], rules: Iterable[ScreeningRule]
) -> tuple[Finding, ...]:
    """What each rule says on its own, the less exact findings included."""
    holding = frozenset(fact.key for fact in facts if fact.holds(case.on))
    found: dict[tuple[str, str, str], Finding] = {}
    for rule in rules:
        if holding.intersection(rule.unless):
            continue
        for fact in _triggers(rule, facts):
            finding = _finding(rule, fact, case)
            if finding is None:
                continue
            slot = (rule.key, finding.condition, finding.why if fact and fact.product else "")
            found[slot] = _later(found.get(slot), finding)
    return tuple(found.values())


def relevant_rules(case: Case) -> tuple[ScreeningRule, ...]:
    """The rules that the child's age, weight and sex and the groups asked about leave over."""
    asked = set(case.groups)
    return tuple(
        rule
        for rule in screening_rules()
        if (not rule.groups or asked.intersection(rule.groups)) and within_limits(rule, case)
    )


def weight_rules(case: Case) -> list[ScreeningRule]:
    """Rules that a missing birth weight leaves undecided: they would speak at some weight."""
    return [
        rule
        for rule in screening_rules()
        if rule.birth_weight_below_g is not None
        and within_limits(_at_birth_weight(rule), case)
        and case.child.birth_weight_g is None
    ]


def _at_birth_weight(rule: ScreeningRule) -> ScreeningRule:
    return msgspec.structs.replace(rule, birth_weight_below_g=None, birth_weight_from_g=None)


def within_limits(rule: ScreeningRule, case: Case) -> bool:
    """Whether the rule can be about this child at all."""
    child, on = case.child, case.on
    if rule.age_from is not None and not reached(child.born, rule.age_from, on):
        return False
    if rule.age_before is not None and reached(child.born, rule.age_before, on):
        return False
    if rule.birth_weight_below_g is not None and (
        child.birth_weight_g is None or child.birth_weight_g >= rule.birth_weight_below_g
    ):
        return False
    if rule.birth_weight_from_g is not None and (
        child.birth_weight_g is not None and child.birth_weight_g < rule.birth_weight_from_g
    ):
        return False
    if rule.gestation_below_weeks is not None and (
        child.gestation_weeks is None or child.gestation_weeks >= rule.gestation_below_weeks
    ):
        return False
    return not rule.first_dose_of or _lacks_a_dose(rule.first_dose_of, child)


def _lacks_a_dose(antigens: tuple[str, ...], child: Child) -> bool:
    """Whether the record holds no dose of one of the antigens."""
    codes = cvx_codes()
    given = {a for dose in child.doses if dose.cvx in codes for a in codes[dose.cvx].antigens}
    return not given.issuperset(antigens)


def _triggers(rule: ScreeningRule, facts: Sequence[Fact]) -> list[Fact | None]:
    """The facts that set the rule off; [None] for a rule that needs none."""
    if rule.by in ("product", "product without wait"):
        return [fact for fact in facts if fact.key == PRODUCT and _waits(fact) == rule.by]
    if not rule.when:
        return [None]
    return [fact for fact in facts if fact.key in rule.when]


def _waits(fact: Fact) -> str:
    return "product" if antibody_products()[fact.product].months else "product without wait"


def _finding(rule: ScreeningRule, fact: Fact | None, case: Case) -> Finding | None:
    until, active = _until(rule, fact, case)
    if not active:
        return None
    target = target_of(rule, conditions().get(fact.key) if fact else None, case)
    if target is None:
        return None
    return Finding(
        key=rule.key,
        kind=rule.kind,
        action=rule.action,
        groups=target.groups,
        vaccines=target.vaccines,
        presentations=target.presentations,
        until=until,
        until_text=rule.until_text,
        text=rule.text,
        why=_why(fact, case),
        source=_source(rule, fact),
        condition=fact.key if fact else "",
        origin=fact.origin if fact else "",
        asked=fact.asked if fact else "",
    )


def _until(rule: ScreeningRule, fact: Fact | None, case: Case) -> tuple[date | None, bool]:
    """The first free day (None: not known) and whether the rule speaks on the day asked for."""
    on = case.on
    if fact is not None and fact.product:
        wait = Span(months=antibody_products()[fact.product].months)
        return _over(None if fact.until is None else add(fact.until, wait), on, rule)
    if rule.lead is not None:
        begins = fact.since if fact is not None else None
        return None, begins is None or begins < add(on, rule.lead)
    if rule.wait is not None:
        anchor = _anchor(rule, fact, case)
        if fact is not None and not fact.begun(on):
            return None, False
        return _over(None if anchor is None else add(anchor, rule.wait), on, rule)
    if fact is None:
        return None, True
    # What was answered with its last day is still named as no reason.
    named = rule.kind == "not a reason" and bool(fact.asked) and fact.begun(on)
    until = fact.until + timedelta(days=1) if fact.until and not named else None
    return until, named or fact.holds(on)


def _over(until: date | None, on: date, rule: ScreeningRule) -> tuple[date | None, bool]:
    if rule.kind == "not a reason":  # a product that needs no wait is named, whenever it was
        return None, True
    return until, until is None or until > on


def _anchor(rule: ScreeningRule, fact: Fact | None, case: Case) -> date | None:
    """The day from which the wait runs."""
    if rule.wait_from == "birth":
        return case.child.born
    if rule.wait_from == "last dose":
        return _last_dose(rule.wait_antigens, case.child, case.on)
    if fact is None:
        return None
    return fact.since if rule.wait_from == "start" else fact.until


def _last_dose(antigens: tuple[str, ...], child: Child, on: date) -> date | None:
    codes = cvx_codes()
    days = [
        dose.on
        for dose in child.doses
        if dose.on <= on and dose.cvx in codes and set(antigens) & set(codes[dose.cvx].antigens)
    ]
    return max(days, default=None)


def _why(fact: Fact | None, case: Case) -> str:
    if fact is None:
        return "for every child of this age"
    if fact.product:
        text = antibody_products()[fact.product].text
    else:
        row = conditions().get(fact.key)
        text = row.text.partition(" (")[0] if row else fact.key
    days = ""
    if fact.until is not None and fact.until <= case.on:
        days = f", {'' if fact.product else 'until '}{fact.until.isoformat()}"
    return f"{text}{days} ({'answer' if fact.asked else 'record'})"


def _source(rule: ScreeningRule, fact: Fact | None) -> str:
    return antibody_products()[fact.product].source if fact and fact.product else rule.source


def _later(one: Finding | None, other: Finding) -> Finding:
    """Of two findings of one rule, the one that lasts longer; no known end lasts longest."""
    if one is None or other.until is None:
        return other
    return one if one.until is None or one.until >= other.until else other


def most_exact(found: Sequence[Finding]) -> tuple[Finding, ...]:
    """Without findings of an implied condition where the condition itself says as much.

    A steroid course implies weakened immunity; its own rule knows the end of the wait.
    """
    return tuple(
        finding
        for finding in found
        if finding.condition == finding.origin
        or not any(_says_as_much(other, finding) for other in found)
    )


def _says_as_much(other: Finding, finding: Finding) -> bool:
    return (
        other.condition == finding.origin
        and other is not finding
        and other.kind == finding.kind
        and other.blocks
        and finding.blocks
        and set(finding.groups) <= set(other.groups)
        and other.vaccines == finding.vaccines
    )
