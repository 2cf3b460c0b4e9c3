"""When an opened or mixed vial must be thrown away: from the product's own data.

The earliest of: hours after opening, minutes after mixing, the last instant of the
expiry day, and the end of the session for vials that end with it.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, tzinfo

import msgspec

from traywise.rulebook.vaccines import Vaccine
from traywise.shelf.clock import end_of, to_instant


class DiscardTime(msgspec.Struct, frozen=True, kw_only=True):
    """The last instant of use, why, and the source of the limit that binds."""

    at: datetime
    why: str
    source: str


def keeping_minutes(vaccine: Vaccine, presentation: str) -> int | None:
    """Minutes an opened vial or a mixed dose keeps; None when only the expiry ends it.

    >>> from traywise.rulebook.vaccines import vaccines
    >>> keeping_minutes(vaccines()["VAR"], "vial+diluent")
    30
    """
    limits = []
    if presentation in ("multidose", "ampoule") and vaccine.multidose_hours is not None:
        limits.append(vaccine.multidose_hours * 60)
    if is_mixed(vaccine, presentation) and vaccine.diluent is not None:
        limits.append(vaccine.diluent.use_within_minutes)
    return min(limits, default=None)


def is_mixed(vaccine: Vaccine, presentation: str) -> bool:
    """Whether this presentation is a powder that is mixed before use."""
    if vaccine.diluent is None:
        return False
    if presentation == "vial+diluent":
        return True
    # A product without a single-dose powder form is itself a powder in its multi-dose vial.
    return presentation in ("multidose", "ampoule") and (
        "vial+diluent" not in vaccine.presentations or vaccine.session_end
    )


def discard_time(
    vaccine: Vaccine,
    presentation: str,
    opened_at: datetime,
    expires: date,
    *,
    session_end: datetime | None = None,
    zone: tzinfo | None = None,
) -> DiscardTime:
    """When a vial opened at ``opened_at`` ends. Hours are elapsed hours, not clock hours."""
    source = vaccine.field_sources.get("multidose_hours", vaccine.source)
    opened = to_instant(opened_at, zone)
    limits = [(end_of(expires, zone), "end of its last day", vaccine.source)]
    minutes = keeping_minutes(vaccine, presentation)
    if minutes is not None:
        if is_mixed(vaccine, presentation):
            source = vaccine.field_sources.get("diluent", source)
        # Through UTC, so that a night of the clock change is 23 or 25 hours long.
        after = (opened.astimezone(UTC) + timedelta(minutes=minutes)).astimezone(opened.tzinfo)
        limits.append((to_instant(after, zone), f"{_say(minutes)} after opening", source))
    if session_end is not None and vaccine.session_end:
        limits.append((to_instant(session_end, zone), "end of the session", source))
    at, why, source = min(limits, key=lambda limit: limit[0].astimezone(UTC))
    return DiscardTime(at=at, why=why, source=source)


def _say(minutes: int) -> str:
    if minutes % 1440 == 0 and minutes > 1440:
        return f"{minutes // 1440} days"
    return f"{minutes // 60} hours" if minutes % 60 == 0 and minutes > 60 else f"{minutes} minutes"
