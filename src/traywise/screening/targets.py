"""Which of the groups and products asked about a screening rule touches."""

from __future__ import annotations

from typing import Protocol

import msgspec

from traywise.rulebook.codes import cvx_codes
from traywise.rulebook.conditions import ConditionRow
from traywise.rulebook.vaccines import Vaccine
from traywise.screening.rules import ScreeningRule


class Asked(Protocol):
    """What is asked about."""

    @property
    def groups(self) -> tuple[str, ...]: ...
    @property
    def vaccines(self) -> tuple[Vaccine, ...]: ...


class Target(msgspec.Struct, frozen=True):
    """Groups touched; products touched, empty for all of the groups; presentations, if not all."""

    groups: tuple[str, ...]
    vaccines: tuple[str, ...] = ()
    presentations: dict[str, tuple[str, ...]] = {}


def target_of(rule: ScreeningRule, condition: ConditionRow | None, asked: Asked) -> Target | None:
    """What the rule touches, None when it is nothing that was asked about."""
    groups = _groups(rule, condition, asked.groups)
    if not rule.narrows:
        return Target(groups) if groups else None
    touched = [v for v in asked.vaccines if set(v.groups) & set(groups) and _is(v, rule, condition)]
    if not touched:
        return None
    hit = tuple(group for group in groups if any(group in v.groups for v in touched))
    keys = tuple(v.key for v in touched)
    latex = {v.key: v.latex_in for v in touched} if rule.by == "latex" else {}
    return Target(hit, keys, latex)


def _groups(
    rule: ScreeningRule, condition: ConditionRow | None, asked: tuple[str, ...]
) -> tuple[str, ...]:
    if rule.by == "group" and condition is not None:
        named: tuple[str, ...] = (condition.group,)
    else:
        named = rule.groups or asked
    return tuple(g for g in asked if g in named and g not in rule.except_groups)


def _is(vaccine: Vaccine, rule: ScreeningRule, condition: ConditionRow | None) -> bool:
    """Whether the product has every feature that the rule names."""
    if rule.live and (not vaccine.live or vaccine.globulin):
        return False
    if rule.routes and not set(rule.routes) & set(vaccine.routes):
        return False
    if rule.cvx and not set(rule.cvx) & set(vaccine.cvx):
        return False
    if set(rule.except_cvx) & set(vaccine.cvx):
        return False
    if rule.antigens and not set(rule.antigens) & _antigens(vaccine):
        return False
    if rule.combined and not set(rule.combined) <= set(vaccine.groups):
        return False
    if rule.by == "component":
        return condition is not None and condition.component in vaccine.components
    return rule.by != "latex" or bool(vaccine.latex_in)


def _antigens(vaccine: Vaccine) -> set[str]:
    codes = cvx_codes()
    return {antigen for cvx in vaccine.cvx if cvx in codes for antigen in codes[cvx].antigens}
