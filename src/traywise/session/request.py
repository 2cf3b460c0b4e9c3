"""What a session is planned from: children with their needs, shelf, hours, weights."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Literal

import msgspec

from traywise.errors import Fault, InputError
from traywise.rulebook.session_figures import session_figures
from traywise.schedule.answer import GroupForecast
from traywise.shelf.clock import to_instant
from traywise.shelf.lot import Lot
from traywise.tray.need import Need

Return = Literal["", "hard", "unlikely"]


class SessionChild(msgspec.Struct, frozen=True, kw_only=True):
    """One child of the roster.

    at    the appointment, an instant of the clinic's clock; None: no appointment
    back  how hard it is for the child to come back: "", "hard", "unlikely"
    """

    need: Need
    at: datetime | None = None
    back: Return = ""

    @property
    def id(self) -> str:
        return self.need.child.id


class Weights(msgspec.Struct, frozen=True, kw_only=True):
    """The figures of ``tables/session.toml``, each changeable; whole numbers, none negative."""

    dose: int = 0
    overdue_day: int = 0
    overdue_days_most: int = 0
    return_hard: int = 0
    return_unlikely: int = 0
    urgent: int = 0
    minutes_per_child: int = 0
    minutes_per_dose: int = 0
    late_minutes: int = 0
    prepare_minutes: int = 0
    expiring_days: int = 0

    @classmethod
    def of_table(cls, **changes: int) -> Weights:
        """The table's figures, some of them changed."""
        figures = {key.replace("-", "_"): f.value for key, f in session_figures().items()}
        return cls(**{**figures, **changes})

    def of_dose(self, forecast: GroupForecast, on: date, back: Return) -> int:
        """Points for covering a group on that day."""
        late = 0
        if forecast.status == "overdue":
            since = forecast.overdue or forecast.due or on
            late = min(max((on - since).days, 0), self.overdue_days_most)
        returning = {"": 0, "hard": self.return_hard, "unlikely": self.return_unlikely}[back]
        urgent = self.urgent if forecast.urgent else 0
        return self.dose + self.overdue_day * late + returning + urgent


class Session(msgspec.Struct, frozen=True, kw_only=True):
    """One clinic day or half day, ready to be planned; ``prepare`` makes one.

    children     in the order of the appointments, each with an instant in ``times``
    shelf_known  False: the shelf could not be read, so ``shelf`` is empty and nothing is ordered
    """

    on: date
    start: datetime
    end: datetime
    vaccinators: int
    children: tuple[SessionChild, ...]
    times: tuple[datetime, ...]
    shelf: tuple[Lot, ...]
    weights: Weights
    zone: tzinfo | None = None
    next_session: date | None = None
    shelf_known: bool = True

    def minutes_of(self, doses: int) -> int:
        """Minutes of one vaccinator for a child who gets so many doses; none for no dose."""
        if not doses:
            return 0
        return self.weights.minutes_per_child + self.weights.minutes_per_dose * doses

    def minutes_from(self, at: datetime) -> int:
        """Minutes of all vaccinators from an instant to the end of the session."""
        seconds = (self.end.astimezone(UTC) - at.astimezone(UTC)).total_seconds()
        return max(0, int(seconds // 60)) * self.vaccinators


def prepare(
    children: Sequence[SessionChild],
    shelf: Sequence[Lot] | None,
    start: datetime,
    end: datetime,
    *,
    vaccinators: int = 1,
    weights: Weights | None = None,
    zone: tzinfo | None = None,
    next_session: date | None = None,
) -> Session:
    """A session with its children in order; raises InputError with every fault.

    shelf  None: it could not be read

    Children without an appointment are spread evenly over the session, after each
    other in the order of the roster.
    """
    start, end = to_instant(start, zone), to_instant(end, zone)
    faults = _faults(children, start, end, vaccinators)
    if faults:
        raise InputError(faults)
    booked = [(child, to_instant(child.at, zone)) for child in children if child.at is not None]
    walking = [child for child in children if child.at is None]
    length = end.astimezone(UTC) - start.astimezone(UTC)
    for number, child in enumerate(walking):
        share = timedelta(minutes=int(length.total_seconds() // 60) * number // len(walking))
        booked.append((child, (start.astimezone(UTC) + share).astimezone(start.tzinfo)))
    # Stable: of two children at one time the earlier on the roster comes first.
    booked.sort(key=lambda entry: entry[1].astimezone(UTC))
    return Session(
        on=start.date(),
        start=start,
        end=end,
        vaccinators=vaccinators,
        children=tuple(child for child, _ in booked),
        times=tuple(at for _, at in booked),
        shelf=tuple(shelf or ()),
        weights=weights or Weights.of_table(),
        zone=zone,
        next_session=next_session,
        shelf_known=shelf is not None,
    )


def _faults(
    children: Sequence[SessionChild], start: datetime, end: datetime, vaccinators: int
) -> list[Fault]:
    faults = []
    if end.astimezone(UTC) <= start.astimezone(UTC):
        faults.append(Fault("session.E001", "end", "The session ends before it begins."))
    if vaccinators < 0:
        faults.append(Fault("session.E002", "vaccinators", "Write how many: 0 or more."))
    seen: Mapping[str, int] = {}
    counts = dict(seen)
    for child in children:
        counts[child.id] = counts.get(child.id, 0) + 1
        if child.need.on != start.date():
            text = f"Assessed for {child.need.on}, not for the day of the session, {start.date()}."
            faults.append(Fault("session.E004", f"child {child.id}", text))
        if child.at is not None and not start <= to_instant(child.at, start.tzinfo) < end:
            text = (
                f"The appointment {child.at:%H:%M} lies outside the session. Correct one of them."
            )
            faults.append(Fault("session.E005", f"child {child.id}", text))
    faults += [
        Fault("session.E003", f"child {id}", "Stands more than once on the roster. Keep one line.")
        for id, count in counts.items()
        if count > 1
    ]
    return faults
