"""The day's board as data: who comes, what each child's tray holds, what to take from the shelf.

Others fill it (a session plan, the workbench); paper and terminal show it. All words are ready
to print; only shapes and lengths are drawn from it.
"""

from __future__ import annotations

from datetime import date

import msgspec

from traywise.paper.wording import ROUTES
from traywise.tray.plan import Supply

SHAPES = {"done": "●", "answer": "▲", "ready": "◆", "waiting": "◇", "stop": "■"}


class BoardDose(msgspec.Struct, frozen=True, kw_only=True):
    """One dose on the board. ``needle_mm`` is None by mouth or nose, or when not chosen."""

    name: str
    route: str = "IM"
    needle_mm: int | None = None
    gauge: int | None = None
    lot: str | None = None


class BoardRow(msgspec.Struct, frozen=True, kw_only=True):
    """One child of the session.

    status  done, answer, ready, waiting or stop; ``word`` says it, ``note`` adds when or why
    """

    time: str
    name: str
    about: str = ""  # "4 months", "15 months, on oral steroid"
    doses: tuple[BoardDose, ...] = ()
    status: str = "ready"
    word: str = ""
    note: str = ""

    @property
    def shape(self) -> str:
        return SHAPES.get(self.status, "▲")


class Pick(msgspec.Struct, frozen=True, kw_only=True):
    """Something to take from a unit, in the order in which it stands there."""

    unit: str
    what: str
    lot: str
    count: int
    expires: date | None = None
    note: str = ""  # "with its diluent; use within 30 min"


class Watch(msgspec.Struct, frozen=True, kw_only=True):
    """Something that wants an eye today: a fridge, a lot near expiry, needles running out."""

    status: str
    text: str
    action: str = ""

    @property
    def shape(self) -> str:
        return SHAPES.get(self.status, "▲")


class Preparation(msgspec.Struct, frozen=True, kw_only=True):
    """A vial to mix or open, at which time, for whom, and until when it keeps."""

    time: str
    what: str
    use_by: str
    note: str = ""


class NotServed(msgspec.Struct, frozen=True, kw_only=True):
    """What a child does not get in this session: why, and what would change it."""

    name: str
    groups: tuple[str, ...]
    why: str
    change: str = ""


class DayBoard(msgspec.Struct, frozen=True, kw_only=True):
    """One session. ``answer`` is the sentence that answers "how is the day?"."""

    title: str  # "Tuesday morning"
    answer: str  # "18 children, 41 doses, all served"
    on: date
    edition: str
    figures: tuple[tuple[str, str], ...] = ()  # ("9", "injections saved by combinations")
    rows: tuple[BoardRow, ...] = ()
    picks: tuple[Pick, ...] = ()
    supplies: tuple[Supply, ...] = ()
    watch: tuple[Watch, ...] = ()
    preparations: tuple[Preparation, ...] = ()
    not_served: tuple[NotServed, ...] = ()


def dose_tail(dose: BoardDose) -> str:
    """What follows a dose's name on the board: needle length, or how it goes without one.

    >>> dose_tail(BoardDose(name="MMR", route="SC", needle_mm=16)), dose_tail(BoardDose(name="PCV"))
    ('16 mm', 'needle not chosen')
    """
    if dose.needle_mm is not None:
        return f"{dose.needle_mm} mm"
    if dose.route in ("PO", "NAS"):
        return ROUTES[dose.route]
    return "needle not chosen"
