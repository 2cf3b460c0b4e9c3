"""Needle policies: the authority whose table is followed, shipped or a clinic's own file.

A policy is named by its key in ``needles.toml``, or by the path of a TOML file of the same
shape (one ``[[policy]]``, then ``[[row]]`` of needles and ``[[choice]]`` of sites). Where a
policy has no row for a route and site, the one it falls back to is asked.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import msgspec

from traywise.equipment.tables import (
    ChoiceRow,
    NeedleRow,
    PolicyRow,
    choice_rows,
    needle_rows,
    policies,
)
from traywise.errors import Fault, InputError
from traywise.rulebook.tables import place, read_rows


class Policy(msgspec.Struct, frozen=True, kw_only=True):
    """One policy with the rows that are its own."""

    head: PolicyRow
    needles: tuple[NeedleRow, ...]
    choices: tuple[ChoiceRow, ...]


@cache
def policy_chain(name: str) -> tuple[Policy, ...]:
    """The policy and those it falls back to, in that order.

    Raises InputError with every fault for an unknown key or an unfit file.

    >>> [policy.head.key for policy in policy_chain("australia-2018")]
    ['australia-2018', 'acip-2024']
    """
    if name.endswith(".toml"):
        chain = [_read_file(Path(name))]
    elif name in policies():
        chain = [_shipped(name)]
    else:
        text = f'"{name}" is unknown. Choose {", ".join(policies())}, or name a TOML file.'
        raise InputError([Fault("equipment.E001", "needle policy", text)])
    while following := chain[-1].head.falls_back_to:
        chain.append(_shipped(following))
    return tuple(chain)


def shipped_key(name: str) -> str:
    """The shipped policy whose wording of the steps applies.

    >>> shipped_key("who-programme")
    'who-programme'
    """
    return next(policy.head.key for policy in policy_chain(name) if policy.head.key in policies())


def policy_text(name: str) -> str:
    """The needle policy as shown on the tray."""
    chain = policy_chain(name)
    text = f"Needle policy: {chain[0].head.name}."
    if len(chain) > 1:
        text += f" What it does not list: {chain[1].head.name}."
    return f"{text} {chain[0].head.note}" if chain[0].head.note else text


def _shipped(key: str) -> Policy:
    return Policy(
        head=policies()[key],
        needles=tuple(row for row in needle_rows() if row.policy == key),
        choices=tuple(row for row in choice_rows() if row.policy == key),
    )


def _read_file(path: Path) -> Policy:
    heads, faults = read_rows(path, PolicyRow, "policy")
    needles, needle_faults = read_rows(path, NeedleRow)
    choices, choice_faults = read_rows(path, ChoiceRow, "choice")
    faults = list(dict.fromkeys([*faults, *needle_faults, *choice_faults]))
    if not faults:
        faults = [*_check_heads(heads, path), *check_needles(needles, path)]
    if faults:
        raise InputError(faults)
    return Policy(head=heads[0], needles=tuple(needles), choices=tuple(choices))


def _check_heads(heads: list[PolicyRow], path: Path) -> list[Fault]:
    if len(heads) != 1:
        text = f"Write exactly one [[policy]]; there are {len(heads)}."
        return [Fault("equipment.E003", place(path, "policy"), text)]
    head = heads[0]
    if head.key in policies():
        text = f'"{head.key}" is the key of a shipped policy. Choose another.'
        return [Fault("equipment.E003", place(path, "policy", "key"), text)]
    if head.falls_back_to not in policies():
        text = f'"{head.falls_back_to}" is unknown. Write one of {", ".join(policies())}.'
        return [Fault("equipment.E003", place(path, "policy", "falls_back_to"), text)]
    return []


def check_needles(rows: list[NeedleRow], path: Path) -> list[Fault]:
    """Faults within needle rows: a default or a stretched length that is not allowed."""
    faults = []
    for row in rows:
        if row.device:
            if row.lengths_mm or row.gauges:
                text = f"The {row.device} brings its own points: leave lengths_mm and gauges empty."
                faults.append(
                    Fault("equipment.E004", place(path, f'row "{row.key}"', "device"), text)
                )
            continue
        for name, lengths in (
            ("default_mm", (row.default_mm,)),
            ("stretched_mm", row.stretched_mm),
        ):
            strays = [mm for mm in lengths if mm not in row.lengths_mm]
            if strays:
                text = f"{strays[0]} mm is not one of lengths_mm {list(row.lengths_mm)}."
                faults.append(Fault("equipment.E004", place(path, f'row "{row.key}"', name), text))
        if not row.gauges:
            text = "Write at least one gauge."
            faults.append(Fault("equipment.E004", place(path, f'row "{row.key}"', "gauges"), text))
    return faults
