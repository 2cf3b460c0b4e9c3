"""GS1 application identifiers, from ``editions/codes/gs1-identifiers.toml``."""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.rulebook.codes import CODES
from traywise.rulebook.tables import load_rows


class Identifier(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One identifier.

    length  of the value; the most it may have unless ``exact``
    fixed   predefined: no separator needs to follow
    """

    key: str
    name: str
    kind: str  # digits, text, date
    length: int
    exact: bool
    fixed: bool
    source: str


@cache
def gs1_identifiers() -> dict[str, Identifier]:
    """Identifiers by their digits."""
    path = CODES / "gs1-identifiers.toml"
    return {row.key: row for row in load_rows(path, Identifier)}
