"""Cautions of a visit as a whole: findings to weigh, no reasons to wait, watching, emergency."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from traywise.calendar import reached
from traywise.equipment.place import Layout
from traywise.record.child import Child
from traywise.rulebook.visit import emergency_doses, watches
from traywise.screening.findings import Finding
from traywise.screening.verdicts import Screening
from traywise.tray.weight_notes import doubtful_weight, missing_weight


def visit_cautions(child: Child, on: date, screening: Screening, layout: Layout) -> tuple[str, ...]:
    """Short sentences, most urgent first, none twice. Nothing when nothing is given."""
    doubt = doubtful_weight(child, on)
    found = [doubt] if doubt else []
    found += [
        f"{finding.why}: {finding.text}"
        for finding in screening.findings
        if not finding.blocks and finding.kind != "not a reason"
    ]
    found += [
        f"Not a reason to wait: {finding.why.rstrip('.')}. {finding.text}"
        for finding in _said_once(screening.findings)
        if finding.kind == "not a reason"
    ]
    found += layout.cautions
    found += missing_weight(child, on, layout.places)
    found += [fault.text for fault in screening.faults]
    if layout.places:
        found += _watching(child, on)
        found += _emergency(child)
    return tuple(dict.fromkeys(found))


def _said_once(findings: Sequence[Finding]) -> list[Finding]:
    """Without the general finding where one of the child's own says the same."""
    own = {finding.text for finding in findings if finding.condition}
    return [finding for finding in findings if finding.condition or finding.text not in own]


def _watching(child: Child, on: date) -> list[str]:
    return [
        row.text
        for row in watches()
        if (row.age_from is None or reached(child.born, row.age_from, on))
        and (row.age_before is None or not reached(child.born, row.age_before, on))
    ]


def _emergency(child: Child) -> list[str]:
    """The emergency dose for this weight; without a weight that is said, not guessed."""
    found = []
    for row in emergency_doses():
        if child.weight_kg is None:
            found.append(
                f"For anaphylaxis have {row.drug} at hand: {row.mg_per_kg} mg per kg, {row.text}. "
                "The weight is not recorded: weigh before the injections."
            )
        else:
            found.append(
                f"For anaphylaxis have {row.drug} at hand: {row.ml_for(child.weight_kg):.2f} mL "
                f"for {child.weight_kg:g} kg, {row.text}."
            )
    return found
