"""Finds out what the columns of a table hold, from their heads.

A head is compared in small letters, with every other sign as a blank, its unit and
its order of day and month taken off. What was found is returned as a ``Mapping`` to
be shown: nothing is read that the person cannot see and correct.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import msgspec

from traywise.rulebook.codes import cvx_by_name, plain_name
from traywise.rulebook.column_words import fields_by_word, units_by_word

_ORDER = re.compile(r"\b(dd?[ /.-]mm?[ /.-]yyyy|mm?[ /.-]dd?[ /.-]yyyy|yyyy[ /.-]mm?[ /.-]dd?)\b")
_DOSE = re.compile(r"(.*?)[\s_#().-]*(?:dose|no\.?|nr\.?)?[\s_#().-]*(\d)\)?", re.IGNORECASE)
_FILLER = re.compile(
    r"\b(date|dose|given|vaccine|on|of|birth|booster|first|second|third|fourth|fifth|"
    r"\d(st|nd|rd|th))\b",
    re.IGNORECASE,
)


class Head(msgspec.Struct, frozen=True, kw_only=True):
    """What one column holds.

    number  from 1
    field   key of the record, None when the column is not used
    of      child, dose, or vaccine: the dates of one vaccine stand in the column
    unit    as the head says, None when it does not
    order   "dmy" or "mdy" or "ymd" where the head says so
    cvx     for ``of`` vaccine: the code
    """

    number: int
    text: str
    field: str | None = None
    of: str = ""
    unit: str | None = None
    order: str | None = None
    cvx: str | None = None


def read_heads(cells: Sequence[str]) -> tuple[Head, ...]:
    """The heads of a table, each with what its column holds.

    >>> [(head.field, head.unit) for head in read_heads(["MRN", "Birth weight (g)", "Colour"])]
    [('id', None), ('birth_weight_g', 'g'), (None, None)]
    """
    names = {plain_name(cell) for cell in cells}
    return tuple(_read_head(number, cell, names) for number, cell in enumerate(cells, start=1))


def _read_head(number: int, cell: str, names: set[str]) -> Head:
    words = " ".join(re.sub(r"[^0-9a-z/.]+", " ", cell.casefold()).split())
    stated = _ORDER.search(words)
    order = None
    if stated:
        order = "".join(dict.fromkeys(sign for sign in stated[0] if sign in "dmy"))
        words = " ".join((words[: stated.start()] + words[stated.end() :]).split())
    plain = " ".join(words.replace("/", " ").replace(".", " ").split())
    field = fields_by_word().get(plain)
    unit = None
    last = plain.rpartition(" ")
    if last[0] and last[2] in units_by_word():
        unit = units_by_word()[last[2]].key
        field = field or fields_by_word().get(last[0])
    if field:
        return Head(number=number, text=cell, field=field[0], of=field[1], unit=unit, order=order)
    cvx = _vaccine_of(cell if not stated else words, names)
    if cvx:
        return Head(number=number, text=cell, field="on", of="vaccine", order=order, cvx=cvx)
    return Head(number=number, text=cell)


def _vaccine_of(cell: str, names: set[str]) -> str | None:
    """The CVX code of a head such as "DTaP 2", "Hep B #3" or "MMR date 1"."""
    codes = cvx_by_name()
    text = _FILLER.sub(" ", cell)
    whole = codes.get(plain_name(text))
    found = _DOSE.fullmatch(" ".join(text.split()))
    if found is None:
        return whole
    base, count = plain_name(found[1]), int(found[2])
    numbered = codes.get(base)
    if whole and numbered:
        # "RV1" is a vaccine; beside "RV2" it is the first dose of any rotavirus vaccine.
        first = count == 1 and f"{base}2" in names
        later = count > 1 and all(f"{base}{n}" in names for n in range(1, count))
        return numbered if first or later else whole
    return numbered or whole


def speaks_of_vaccine(head: str) -> bool:
    """Whether a head names a vaccine among other words.

    >>> speaks_of_vaccine("HepB after birth"), speaks_of_vaccine("Colour")
    (True, False)
    """
    codes = cvx_by_name()
    return any(plain_name(word) in codes for word in re.split(r"[\s_(),;:]+", head) if word)


def find_heads(rows: Sequence[Sequence[str]]) -> int | None:
    """Index of the row that holds the heads: the first of ten with two known columns."""
    for index, cells in enumerate(rows[:10]):
        known = {head.field for head in read_heads(cells) if head.field}
        if len(known) > 1:
            return index
    return None
