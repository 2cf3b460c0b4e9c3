"""Words of tables: heads of columns, units and words in cells, from ``tables/columns.toml``."""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.rulebook.tables import EDITIONS, load_rows

PATH = EDITIONS / "tables" / "columns.toml"


class ColumnWords(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Heads under which a field of the record is met. ``of``: child or dose."""

    key: str
    of: str
    words: tuple[str, ...]
    source: str


class Unit(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A unit: ``factor`` to the smallest unit of its kind (grams, millimetres, millilitres)."""

    key: str
    measures: str
    factor: float
    words: tuple[str, ...]
    source: str


class CellWords(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Words in cells and what they mean. ``of``: sex, yes-no, unknown."""

    key: str
    of: str
    words: tuple[str, ...]
    source: str


@cache
def fields_by_word() -> dict[str, tuple[str, str]]:
    """(field, "child" or "dose") by each head in small letters."""
    rows = load_rows(PATH, ColumnWords)
    return {
        word: (row.key, row.of) for row in rows for word in (row.key.replace("_", " "), *row.words)
    }


@cache
def units_by_word() -> dict[str, Unit]:
    """Each unit by its key and its other spellings."""
    rows = load_rows(PATH, Unit, "unit")
    return {word: unit for unit in rows for word in (unit.key, *unit.words)}


@cache
def cell_words(of: str) -> dict[str, str]:
    """Meaning by word, for the words of one kind: sex, yes-no or unknown."""
    rows = load_rows(PATH, CellWords, "word")
    return {word: row.key for row in rows if row.of == of for word in row.words}
