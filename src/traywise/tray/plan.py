"""The tray as data: places in the order of giving, what is not given today, what lies ready."""

from __future__ import annotations

from datetime import date

import msgspec

from traywise.schedule.answer import GroupForecast


class Needle(msgspec.Struct, frozen=True, kw_only=True):
    """Gauge and length; millimetres as the source prints or converts them."""

    gauge: int
    length_mm: int


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """One dose of the tray: what, where, with what, how and why. ``n`` is the order of giving."""

    n: int
    cvx: str
    vaccine: str  # key in vaccines.toml
    name: str
    lot: str | None
    expires: date | None = None
    presentation: str
    groups: tuple[str, ...]
    dose_numbers: dict[str, int] = {}
    route: str  # IM, SC, PO, NAS, ID
    volume_ml: float
    site: str | None  # HL7 0163: LT RT LA RA LD RD; None by mouth or nose
    site_text: str  # "left thigh, upper, outer middle third"
    position: str | None = None  # upper, lower
    needle: Needle | None = None
    needle_choices: tuple[Needle, ...] = ()  # all that the table allows here
    needle_missing: str | None = None  # the right needle is not among the supplies: what to get
    angle_deg: int | None = None
    technique: str = ""
    syringe: str = ""  # "1 mL syringe", "ready-filled syringe", "oral applicator"
    steps: tuple[str, ...] = ()
    use_within_minutes: int | None = None
    cautions: tuple[str, ...] = ()
    why: tuple[str, ...] = ()
    source: tuple[str, ...] = ()
    unit: str | None = None  # fridge or freezer the lot is in
    funding: str | None = None


class NotToday(msgspec.Struct, frozen=True, kw_only=True):
    """A group that is due but not given: why, and until when."""

    group: str
    why: str
    until: date | None = None
    would_serve: tuple[str, ...] = ()
    source: str = ""


class OpenQuestion(msgspec.Struct, frozen=True, kw_only=True):
    """A screening question still unanswered and what it decides."""

    key: str
    text: str
    groups: tuple[str, ...]
    answers: tuple[str, ...] = ("yes", "no", "unknown")
    private: bool = False
    source: str = ""


class Supply(msgspec.Struct, frozen=True, kw_only=True):
    """Something to lay ready and how many.

    expires  of the box to take it from, where the supplies list says one
    """

    item: str
    count: int
    gauge: int | None = None
    length_mm: int | None = None
    volume_ml: float | None = None
    expires: date | None = None


class ReachNote(msgspec.Struct, frozen=True, kw_only=True):
    """What scans say about a needle that the table has chosen; never another needle.

    differs  most measured children of this age lie outside the muscle by these figures
    trials   outcome trials that point the other way
    """

    site: str  # thigh, deltoid
    length_mm: int
    places: tuple[int, ...]
    differs: bool
    text: str
    brief: str = ""
    trials: tuple[str, ...] = ()
    source: tuple[str, ...] = ()


class Tray(msgspec.Struct, frozen=True, kw_only=True):
    """The plan of one visit.

    afterwards  what comes next in every group once all places are given; empty without places
    needle_policy  key of the needle and site table that was followed; "" without places
    """

    tray: tuple[Place, ...] = ()
    not_today: tuple[NotToday, ...] = ()
    questions: tuple[OpenQuestion, ...] = ()
    supplies: tuple[Supply, ...] = ()
    cautions: tuple[str, ...] = ()
    reach: tuple[ReachNote, ...] = ()
    afterwards: dict[str, GroupForecast] = {}
    needle_policy: str = ""
    state: str = "ready"  # ready, after screening, nothing due
