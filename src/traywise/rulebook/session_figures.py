"""Weights and times of a session plan: ``tables/session.toml``."""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.rulebook.tables import load_table


class SessionFigure(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One figure a plan uses, in whole units."""

    key: str
    value: int
    unit: str
    source: str


@cache
def session_figures() -> dict[str, SessionFigure]:
    """All figures by key."""
    return {figure.key: figure for figure in load_table("session", SessionFigure)}
