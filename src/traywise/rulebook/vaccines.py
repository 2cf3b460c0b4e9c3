"""Vaccines that can lie on a tray: one row per CVX code of ``tables/vaccines.toml``.

The table says what a product is and for whom; which dose a child needs is the
schedule's business. Products are told apart by ACIP abbreviation and features,
never by trade name.
"""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.calendar import Span
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
    """What a powder is mixed with and how long the mixture keeps."""

    name: str
    use_within_minutes: int
    volume_ml: float | None = None
    note: str = ""


class Vaccine(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One product type. Ages are licensed ages; ``places`` limits dose numbers by group."""

    key: str  # "DTaP-HepB-IPV"
    name: str  # as the trade writes it on a list
    cvx: tuple[str, ...]
    groups: tuple[str, ...]
    routes: tuple[str, ...]  # first: preferred. IM, SC, PO, NAS, ID
    volumes: tuple[Volume, ...]
    presentations: tuple[str, ...]
    age_from: Span
    age_before: Span | None = None  # first day too old
    places: dict[str, tuple[int, ...]] = {}  # group -> dose numbers it may serve
    line: str = ""  # product line that should be kept through a series: "RV1", "MenB-4C"
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
    multidose_hours: int | None = None  # an opened multidose vial keeps this long
    multidose_doses: int | None = None  # at most this many doses from one vial
    note: str = ""
    source: str


@cache
def vaccines() -> dict[str, Vaccine]:
    """All vaccines by key."""
    return {vaccine.key: vaccine for vaccine in load_table("vaccines", Vaccine)}


@cache
def vaccines_by_cvx() -> dict[str, Vaccine]:
    """The vaccine of each CVX code that can be given."""
    return {cvx: vaccine for vaccine in vaccines().values() for cvx in vaccine.cvx}
