"""The WHO multi-dose vial policy: may this opened vial be kept to a later session?

A vial is kept only when every condition is known to hold; otherwise it goes after some
hours or at the end of the session, whichever comes first. A mixed powder is never kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta, tzinfo

import msgspec

from traywise.rulebook.vaccines import Vaccine
from traywise.rulebook.vial_policy import KeepCondition, keep_conditions, otherwise
from traywise.shelf.clock import to_instant
from traywise.shelf.discard import DiscardTime, discard_time, is_mixed


class Keeping(msgspec.Struct, frozen=True, kw_only=True):
    """Whether it may be kept to a later session, until when it may be used, and what fails."""

    kept: bool
    until: DiscardTime
    failing: tuple[KeepCondition, ...] = ()
    unknown: tuple[KeepCondition, ...] = ()


def keep_vial(
    vaccine: Vaccine,
    presentation: str,
    opened_at: datetime,
    expires: date,
    session_end: datetime,
    known: Mapping[str, bool | None],
    zone: tzinfo | None = None,
) -> Keeping:
    """The policy for one opened vial.

    known   condition key -> holds, fails, or None or absent for unknown
    source  WHO/IVB/14.07; each condition carries its own
    """
    conditions = keep_conditions()
    failing = tuple(c for c in conditions if known.get(c.key) is False)
    unknown = tuple(c for c in conditions if known.get(c.key) is None)
    long = discard_time(vaccine, presentation, opened_at, expires, zone=zone)
    if not failing and not unknown and not is_mixed(vaccine, presentation):
        return Keeping(kept=True, until=long)
    rule = otherwise()
    hours = rule.hours or 0
    opened = to_instant(opened_at, zone).astimezone(UTC)
    at, why = min(
        (opened + timedelta(hours=hours), f"{hours} hours after opening"),
        (to_instant(session_end, zone).astimezone(UTC), "end of the session"),
        (long.at.astimezone(UTC), long.why),
    )
    until = DiscardTime(at=to_instant(at, zone), why=why, source=rule.source)
    return Keeping(kept=False, until=until, failing=failing, unknown=unknown)
