"""Screening's findings as reasons that hold back a group, a product or a presentation."""

from __future__ import annotations

from collections.abc import Sequence

from traywise.screening.findings import Finding
from traywise.tray.need import Block, product_key


def blocks_of(findings: Sequence[Finding]) -> dict[str, Block]:
    """The findings that keep something off today's tray, by what they hold back."""
    blocks: dict[str, Block] = {}
    for finding in findings:
        if not finding.blocks:
            continue
        block = Block(
            why=f"{finding.why}: {finding.text}", until=finding.until, source=finding.source
        )
        for key in _keys(finding):
            blocks[key] = _lasting(blocks.get(key), block)
    return blocks


def _keys(finding: Finding) -> list[str]:
    if not finding.vaccines:
        return list(finding.groups)
    keys = []
    for vaccine in finding.vaccines:
        parts = finding.presentations.get(vaccine)
        keys += [product_key(vaccine, part) for part in ([""] if parts is None else parts)]
    return keys


def _lasting(one: Block | None, other: Block) -> Block:
    """Of two reasons the one that lasts longer; a reason without known end lasts longest."""
    if one is None or one.until is None:
        return one or other
    return other if other.until is None or other.until > one.until else one
