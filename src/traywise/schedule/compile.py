"""Turns an edition into arrays of whole numbers, once per edition; see layout for the columns.

The numbers are kept beside the checked edition, under a digest of its content and of this
room's code, so that a command for one child need not compile anew.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import msgspec

from traywise.calendar import FIRST_OF, MONTH_OF
from traywise.rulebook.codes import CvxEntry, cvx_codes
from traywise.rulebook.edition import load_edition
from traywise.rulebook.kept import kept
from traywise.rulebook.published import Edition, Group
from traywise.rulebook.rows import GroupHead, Row
from traywise.schedule import layout as c
from traywise.schedule.arrays import Table
from traywise.schedule.row_numbers import month_day, row_numbers
from traywise.schedule.speaking import list_speaking, most_counted

# Read together with the code itself: files that change later are not the code that runs.
_CODE = b"".join(path.read_bytes() for path in sorted(Path(__file__).resolve().parent.glob("*.py")))


class Numbers(msgspec.Struct, frozen=True, kw_only=True):
    """The numbers that an edition compiles to.

    rows, conds, groups, settings  flat lists of whole numbers
    speaking, starts  which rows speak in which state of a group; see layout
    bits       condition key -> bit of the child's flags
    of_cvx     CVX code -> (product list bits, group bits, live family bits)
    """

    rows: list[int]
    conds: list[int]
    groups: list[int]
    speaking: list[int]
    starts: list[int]
    settings: list[int]
    bits: dict[str, int]
    of_cvx: dict[str, tuple[int, int, int]]


class Compiled(Numbers, frozen=True, kw_only=True):
    """An edition as the logic reads it: its numbers and what they stand for.

    row_of     the row behind each row number, with its group
    """

    edition: Edition
    row_of: tuple[tuple[str, Row], ...]

    def table(self) -> Table:
        """The arrays as the logic takes them, with the month tables of the calendar."""
        return Table(
            rows=self.rows,
            conds=self.conds,
            groups=self.groups,
            speaking=self.speaking,
            starts=self.starts,
            settings=self.settings,
            month_of=MONTH_OF,
            first_of=FIRST_OF,
        )


@cache
def compiled(name: str) -> Compiled:
    """The compiled edition of that name."""
    edition = load_edition(name)
    # What is compiled counts, not its files: they may have changed since it was loaded.
    content = msgspec.msgpack.encode((edition, cvx_codes()))
    numbers = kept(Numbers, (content, _CODE), lambda: compile_edition(edition))
    row_of = tuple((group.key, row) for group in edition.groups for row in group.rows)
    return Compiled(edition=edition, row_of=row_of, **msgspec.structs.asdict(numbers))


def compile_edition(edition: Edition) -> Numbers:
    """Compile an edition that was checked: no more lists, conditions or groups than bits."""
    lists = {name: 1 << number for number, name in enumerate(edition.products)}
    bits = {key: 1 << number for number, key in enumerate(edition.condition_keys)}
    rows: list[int] = []
    conds: list[int] = []
    groups: list[int] = []
    speaking: list[int] = []
    starts: list[int] = []
    count = 0
    families = {family.key: 1 << number for number, family in enumerate(edition.families)}
    for group in edition.groups:
        first = count
        for row in group.rows:
            rows += row_numbers(row, lists, bits, conds, edition.general.grace)
            count += 1
        groups += _group_numbers(group, len(starts), most_counted(rows, first), families)
        list_speaking(rows, conds, first, speaking, starts)
    starts.append(len(speaking))
    return Numbers(
        rows=rows,
        conds=conds,
        groups=groups,
        speaking=speaking,
        starts=starts,
        settings=_settings(edition, bits),
        bits=bits,
        of_cvx={
            code: _masks(entry, edition, lists, families) for code, entry in cvx_codes().items()
        },
    )


def _settings(edition: Edition, bits: dict[str, int]) -> list[int]:
    general = edition.general
    settings = [0] * c.SETTINGS_WIDTH
    settings[c.S_LIVE_DAYS] = general.live_interval.days
    settings[c.S_LIVE_STRICT] = int(general.live_spacing == "every live vaccine")
    settings[c.S_LIVE_HOLDS] = int(general.live_conflict == "holds the dose back")
    settings[c.S_ANTIBODY_AFTER] = general.antibody_after_dose.days
    settings[c.S_LATE_AFTER] = general.late_after.days if general.late_after else c.NONE
    settings[c.S_DATED] = sum(bits[key] for key in edition.dated_keys)
    return settings


def _group_numbers(group: Group, lists: int, most: int, families: dict[str, int]) -> list[int]:
    numbers = [c.NONE] * c.GROUP_WIDTH
    numbers[c.G_LISTS] = lists
    numbers[c.G_MOST] = most
    if group.head.yearly is not None:
        numbers[c.G_YEARLY] = month_day(group.head.yearly)
    if group.head.late_from is not None:
        numbers[c.G_LATE] = month_day(group.head.late_from)
    numbers[c.G_LIVE] = sum(families[key] for key in group.head.live)
    numbers[c.G_ANTIBODY] = int(group.head.antibody_wait)
    return numbers


def serves(head: GroupHead, entry: CvxEntry) -> bool:
    """Whether doses of a CVX code are judged by a group."""
    if entry.code in head.not_cvx:
        return False
    if head.only_cvx:
        return entry.code in head.only_cvx
    held = [antigen in entry.antigens for antigen in head.antigens]
    return any(held) if head.any_antigen else all(held)


def _masks(
    entry: CvxEntry, edition: Edition, lists: dict[str, int], families: dict[str, int]
) -> tuple[int, int, int]:
    products = sum(bit for name, bit in lists.items() if entry.code in edition.products[name])
    groups = sum(
        1 << number for number, group in enumerate(edition.groups) if serves(group.head, entry)
    )
    live = 0
    for family in edition.families:
        if entry.live and (entry.code in family.cvx or set(family.antigens) & set(entry.antigens)):
            live |= families[family.key]
    return products, groups, live
