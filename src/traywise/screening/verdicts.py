"""What the findings amount to, group by group and product by product."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import msgspec

from traywise.errors import Fault
from traywise.rulebook.vaccines import Vaccine
from traywise.screening.findings import Finding
from traywise.screening.open_questions import Question


class Screening(msgspec.Struct, frozen=True, kw_only=True):
    """The screening of one child on one day for some groups and products.

    faults  answers, conditions and products of the record that were not understood
    """

    on: date
    groups: tuple[str, ...]
    vaccines: tuple[Vaccine, ...]
    findings: tuple[Finding, ...] = ()
    questions: tuple[Question, ...] = ()
    faults: tuple[Fault, ...] = ()

    def about(self, group: str) -> tuple[Finding, ...]:
        """Findings that touch the group, in the order of the rules."""
        return tuple(finding for finding in self.findings if group in finding.groups)

    def blockers(self, group: str) -> tuple[Finding, ...]:
        """Findings that keep the whole group off today's tray, or all of its products."""
        whole = tuple(f for f in self.about(group) if f.blocks and not f.vaccines)
        if whole or not self.blocks_group(group):
            return whole
        return tuple(f for f in self.about(group) if f.blocks)

    def blocks_group(self, group: str) -> bool:
        """Whether nothing of the group may be given today."""
        if any(f.blocks and not f.vaccines for f in self.about(group)):
            return True
        serving = [v for v in self.vaccines if group in v.groups]
        return bool(serving) and all(self._is_blocked(v) for v in serving)

    def blocked_vaccines(self) -> frozenset[str]:
        """Keys of the products not to be given today; a combination goes with any of its parts."""
        return frozenset(v.key for v in self.vaccines if self._is_blocked(v))

    def blocked_presentations(self) -> dict[str, frozenset[str]]:
        """Product -> presentations not to be used, when others of it may be."""
        found: dict[str, frozenset[str]] = {}
        for finding in self.findings:
            if finding.blocks:
                for key, names in finding.presentations.items():
                    found[key] = found.get(key, frozenset()) | frozenset(names)
        return found

    def deferred_until(self, group: str) -> date | None:
        """First day on which something of the group may be given; None: open, or no known end."""
        if not self.blocks_group(group):
            return None
        serving = [v for v in self.vaccines if group in v.groups]
        ends = [_last(self._against(v)) for v in serving]
        if not serving:
            ends = [_last(self.blockers(group))]
        return min((end for end in ends if end is not None), default=None)

    def _against(self, vaccine: Vaccine) -> list[Finding]:
        """Findings that keep this product off the tray."""
        return [f for f in self.findings if f.blocks and _touches(f, vaccine)]

    def _is_blocked(self, vaccine: Vaccine) -> bool:
        return bool(self._against(vaccine))


def _touches(finding: Finding, vaccine: Vaccine) -> bool:
    if not finding.vaccines:
        return bool(set(finding.groups) & set(vaccine.groups))
    if vaccine.key not in finding.vaccines:
        return False
    touched = finding.presentations.get(vaccine.key)
    return touched is None or set(vaccine.presentations) <= set(touched)


def _last(findings: Iterable[Finding]) -> date | None:
    """The day from which none of them stands in the way; None when one has no known end."""
    ends = [finding.until for finding in findings]
    return None if None in ends else max((end for end in ends if end is not None), default=None)
