"""Condition keys of a child: the closed list of ``tables/conditions.toml``.

A record, the schedule's rows and the screening rules use these keys and no others.
``implies`` closes the list upwards: SCID is an immunodeficiency from birth.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from pathlib import Path

import msgspec

from traywise.errors import Fault
from traywise.rulebook.tables import EDITIONS, load_table, place, require

_ABOUT_DATES = re.compile(r" \((from|until): .*\)$")


class ConditionRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One condition key.

    aliases    other words for it, for reading records; lower and upper case are the same
    implies    keys that hold whenever this one holds, where a source says so
    group      anaphylaxis after an earlier dose of this group
    component  anaphylaxis to this component, as vaccines.toml names it
    """

    key: str
    text: str
    source: str
    aliases: tuple[str, ...] = ()
    implies: tuple[str, ...] = ()
    group: str = ""
    component: str = ""

    @property
    def name(self) -> str:
        """The text without what a record's dates mean.

        >>> conditions()["haematopoietic-transplant"].name
        'Stem-cell transplant'
        """
        return _ABOUT_DATES.sub("", self.text)


@cache
def conditions() -> dict[str, ConditionRow]:
    """All conditions by key; raises RulebookError when the table is not fit for use."""
    rows = load_table("conditions", ConditionRow)
    return {row.key: row for row in require(rows, implied_faults(rows))}


def implied_faults(rows: Iterable[ConditionRow]) -> list[Fault]:
    """Faults for rows that imply a key which is not in the list."""
    rows = tuple(rows)
    known = {row.key for row in rows}
    path: Path = EDITIONS / "tables" / "conditions.toml"
    return [
        Fault(
            "rulebook.E030",
            place(path, f'row "{row.key}"', "implies"),
            f'"{key}" is not a condition key. Add a row for it, or correct the key.',
        )
        for row in rows
        for key in row.implies
        if key not in known
    ]


def with_implied(keys: Iterable[str]) -> frozenset[str]:
    """The keys and everything they imply, step by step.

    >>> sorted(with_implied(["sickle-cell"]))
    ['asplenia', 'sickle-cell']
    """
    rows = conditions()
    found: set[str] = set()
    waiting = list(keys)
    while waiting:
        key = waiting.pop()
        if key not in found:
            found.add(key)
            row = rows.get(key)
            waiting += row.implies if row else ()
    return frozenset(found)


def anaphylaxis_key(group: str) -> str | None:
    """The key for anaphylaxis after an earlier dose of a group; None when the list has none.

    >>> anaphylaxis_key("MMR"), anaphylaxis_key("no such group")
    ('anaphylaxis-mmr', None)
    """
    return next((row.key for row in conditions().values() if row.group == group), None)


@cache
def _keys_by_alias() -> dict[str, str]:
    table = {}
    for row in conditions().values():
        for name in (row.key, row.text, *row.aliases):
            table[name.casefold()] = row.key
    return table


def condition_key(text: str) -> str | None:
    """The key for a word of a record: key, text or alias, case aside; None when unknown.

    >>> condition_key("Aspirin"), condition_key("nothing known")
    ('salicylate', None)
    """
    return _keys_by_alias().get(" ".join(text.split()).casefold())
