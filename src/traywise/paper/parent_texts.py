"""What a parent reads, from ``tables/parent-texts.toml``: a line a fact, English and Spanish."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from functools import cache
from typing import Literal

import msgspec

from traywise.calendar import Span, reached
from traywise.rulebook.tables import load_table

Language = Literal["en", "es"]
LANGUAGES: tuple[Language, ...] = ("en", "es")

_MONTHS = {
    "en": ("January February March April May June July August September October November December"),
    "es": (
        "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre"
    ),
}


class ParentText(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One line in both languages and when it stands on the sheet."""

    key: str
    section: Literal["word", "group", "site", "expect", "comfort", "call", "emergency"]
    groups: tuple[str, ...] = ()
    routes: tuple[str, ...] = ()
    age_from: Span | None = None
    age_before: Span | None = None
    en: str
    es: str
    source: str

    def words(self, language: Language) -> str:
        return self.es if language == "es" else self.en

    def stands_for(
        self, groups: Collection[str], routes: Collection[str], born: date, on: date
    ) -> bool:
        """Whether the line belongs on the sheet of a child who got these groups by these routes."""
        return (
            (not self.groups or any(group in groups for group in self.groups))
            and (not self.routes or any(route in routes for route in self.routes))
            and (self.age_from is None or reached(born, self.age_from, on))
            and (self.age_before is None or not reached(born, self.age_before, on))
        )


@cache
def parent_texts() -> dict[str, ParentText]:
    """All lines by key, in the order of the file."""
    return {row.key: row for row in load_table("parent-texts", ParentText)}


def long_date(value: date, language: Language) -> str:
    """A date as a parent reads it.

    >>> long_date(date(2027, 1, 12), "en"), long_date(date(2027, 1, 12), "es")
    ('January 12, 2027', '12 de enero de 2027')
    """
    month = _MONTHS[language].split()[value.month - 1]
    if language == "es":
        return f"{value.day} de {month} de {value.year}"
    return f"{month} {value.day}, {value.year}"
