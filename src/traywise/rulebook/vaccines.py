"""Vaccines that can lie on a tray: one row per product type of ``tables/vaccines.toml``.

The table says what a product is and for whom; which dose a child needs is the
schedule's business. Products are told apart by ACIP abbreviation and features,
never by trade name.

One CVX code may stand for several products that differ in a feature (a route, a
latex part). The first row of a code then holds what is true of every product of
that code, the strictest; the further rows are named by a shelf's ``vaccine`` column.
"""

from __future__ import annotations

from datetime import date
from functools import cache
from typing import Literal

import msgspec

from traywise.calendar import Span, reached
from traywise.rulebook.tables import load_table


class Volume(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A dose volume and for whom; absent limits mean no limit on that side."""

    ml: float
    age_from: Span | None = None
    age_before: Span | None = None
    kg_from: float | None = None
    kg_before: float | None = None
    injections: int = 1  # 200 mg nirsevimab: two of 1 mL
    presentations: tuple[str, ...] = ()  # empty: any
    child: str | None = None  # condition key that selects this volume


class Diluent(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a powder is mixed with and how long the mixture keeps.

    Applies to the presentation ``vial+diluent``, and to ``multidose`` and ``ampoule``
    of a product that has no other presentation.
    """

    name: str
    use_within_minutes: int
    volume_ml: float | None = None
    note: str = ""


class Limit(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A narrower age window for some use of a product.

    Holds for the dose numbers ``doses`` (empty: any) of ``group`` (empty: any) from the
    ``presentations`` (empty: any). ``unless_answer``: a yes to this question lifts it.
    """

    why: str
    group: str = ""
    doses: tuple[int, ...] = ()
    presentations: tuple[str, ...] = ()
    age_from: Span | None = None
    age_before: Span | None = None
    unless_answer: str = ""
    source: str


class ExtraDose(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A component that a combination may give although it is not due: harmless, allowed.

    most_doses  doses of the group in all, this one included
    interval    at least this long after the last dose of the group, valid or not
    """

    group: str
    most_doses: int
    interval: Span
    source: str


class Vaccine(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One product type. Ages are licensed ages; ``places`` limits dose numbers by group."""

    key: str  # "DTaP-HepB-IPV"
    name: str  # as the trade writes it on a list
    family: str = ""  # key that a schedule row may name for several product types
    cvx: tuple[str, ...]
    groups: tuple[str, ...]
    only_in: tuple[str, ...] = ()  # editions whose key starts so; empty: any
    only_if_blocked: tuple[str, ...] = ()  # only for a child to whom one of these is barred
    routes: tuple[str, ...]  # first: preferred. IM, SC, PO, NAS, ID
    volumes: tuple[Volume, ...]
    presentations: tuple[str, ...]
    age_from: Span
    age_before: Span | None = None  # first day too old
    recommended_from: Span | None = None  # outside the licence, when a schedule row names it
    recommended_before: Span | None = None
    limits: tuple[Limit, ...] = ()
    places: dict[str, tuple[int, ...]] = {}  # group -> dose numbers it may serve
    extra_doses: tuple[ExtraDose, ...] = ()
    line: str = ""  # product line that should be kept through a series: "RV1", "MenB-4C"
    line_group: str = ""  # the group whose series the line belongs to
    line_kept: Literal["", "prefer", "must"] = ""  # what leaving this line means
    line_doses: tuple[int, ...] = ()  # next doses at which leaving it matters; empty: any
    second_choice: bool = False  # only if no other product of the group is at hand
    live: bool = False
    globulin: bool = False  # an antibody, not a vaccine
    against: str = ""  # globulin: group of the vaccine that must go in another limb
    diluent: Diluent | None = None
    components: tuple[str, ...] = ()  # allergen keys: "gelatin", "neomycin", "yeast", "egg" ...
    latex_in: tuple[str, ...] = ()  # presentations with natural rubber
    shake: bool = True
    thick: bool = False  # viscous: wants a wider needle
    soreness: int = 1  # 0 none (oral) to 5 sorest; sorest go last and in different limbs
    reactogenic: bool = False  # adjuvanted or strongly reactogenic
    multidose_hours: int | None = None  # an opened multidose vial keeps this long; None: expiry
    multidose_doses: int | None = None  # at most this many doses from one vial
    session_end: bool = False  # an opened or mixed multidose vial ends with the session
    store: Literal["refrigerator", "freezer"] = "refrigerator"  # unopened
    note: str = ""
    source: str
    field_sources: dict[str, str] = {}  # field -> its source, where it is another than the row's

    def named_by(self, keys: tuple[str, ...]) -> bool:
        """Whether a list of the schedule names this product, by key or family."""
        return self.key in keys or bool(self.family and self.family in keys)

    def in_age(self, born: date, day: date, *, named: bool = False) -> bool:
        """Whether the child's age on ``day`` lies within the licence.

        ``named``: a schedule row names the product, which opens the wider
        recommended ages where the authority recommends it beyond the licence.
        """
        first, last = self.age_from, self.age_before
        if named:
            first = self.recommended_from or first
            last = self.recommended_before or last
        return within(first, last, born, day)

    def volume_on(
        self,
        born: date,
        day: date,
        presentation: str,
        weight_kg: float | None = None,
        conditions: frozenset[str] = frozenset(),
    ) -> Volume | None:
        """The volume for this child from this presentation; None if the table has none."""
        return next(
            (v for v in self.volumes if _fits(v, born, day, presentation, weight_kg, conditions)),
            None,
        )

    def needs_weight(self, born: date, day: date, presentation: str) -> bool:
        """Whether only a weight can tell the volume on that day."""
        fitting = [
            v
            for v in self.volumes
            if within(v.age_from, v.age_before, born, day)
            and (not v.presentations or presentation in v.presentations)
        ]
        return any(v.kg_from is not None or v.kg_before is not None for v in fitting)


def within(first: Span | None, before: Span | None, born: date, day: date) -> bool:
    """Whether the age on ``day`` is at least ``first`` and still less than ``before``."""
    return (first is None or reached(born, first, day)) and (
        before is None or not reached(born, before, day)
    )


def _fits(
    volume: Volume,
    born: date,
    day: date,
    presentation: str,
    weight_kg: float | None,
    conditions: frozenset[str],
) -> bool:
    if volume.presentations and presentation not in volume.presentations:
        return False
    if volume.child is not None and volume.child not in conditions:
        return False
    if volume.kg_from is not None and (weight_kg is None or weight_kg < volume.kg_from):
        return False
    if volume.kg_before is not None and (weight_kg is None or weight_kg >= volume.kg_before):
        return False
    return within(volume.age_from, volume.age_before, born, day)


@cache
def vaccines() -> dict[str, Vaccine]:
    """All vaccines by key."""
    return {vaccine.key: vaccine for vaccine in load_table("vaccines", Vaccine)}


@cache
def vaccine_names() -> frozenset[str]:
    """Every key and family by which a schedule row may name vaccines."""
    return frozenset(name for row in vaccines().values() for name in (row.key, row.family) if name)


@cache
def vaccines_by_cvx() -> dict[str, Vaccine]:
    """The vaccine of each CVX code that can be given: the first row, true of all its products."""
    found: dict[str, Vaccine] = {}
    for vaccine in vaccines().values():
        for cvx in vaccine.cvx:
            found.setdefault(cvx, vaccine)
    return found
