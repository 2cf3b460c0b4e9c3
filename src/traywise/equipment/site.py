"""Where an injection may go: every site and side that the tables allow for this child."""

from __future__ import annotations

import msgspec

from traywise.equipment.body import LIMBS, SIDE_OF_LIMB, Body
from traywise.equipment.needle import NeedleChoice, choose_needles
from traywise.equipment.policy import policy_chain
from traywise.equipment.route import bleeding_gauge
from traywise.equipment.tables import (
    DEFAULT_POLICY,
    ChoiceRow,
    LimbRow,
    SiteRow,
    limb_rows,
    sites,
)
from traywise.rulebook.vaccines import Vaccine

LIMB_KIND = {"LT": "leg", "RT": "leg", "LA": "arm", "RA": "arm"}


class SiteOption(msgspec.Struct, frozen=True, kw_only=True):
    """One place an injection may take. ``rank`` 0 is the preferred site."""

    site: str
    limb: str
    rank: int
    muscle_unknown: bool
    needles: NeedleChoice

    @property
    def code(self) -> str:
        """HL7 0163."""
        row = sites()[self.site]
        return row.left if SIDE_OF_LIMB[self.limb] == "left" else row.right


class Room(msgspec.Struct, frozen=True, kw_only=True):
    """How many injections a site or limb takes: as a matter of course, and at most."""

    normal: int
    most: int
    row: LimbRow


def choice_row(body: Body, route: str, policy: str) -> ChoiceRow | None:
    """The row that lists the sites of a route at this age."""
    for listed in policy_chain(policy):
        rows = [row for row in listed.choices if row.route == route]
        if rows:
            return next((r for r in rows if body.in_age(r.age_from, r.age_before)), None)
    return None


def site_options(body: Body, route: str, vaccine: Vaccine, policy: str) -> tuple[SiteOption, ...]:
    """Every site and side for an injection, preferred first; empty where there is none."""
    row = choice_row(body, route, policy)
    if row is None:
        return ()
    found = []
    for rank, site in enumerate(row.sites):
        if room_at(body, site, policy).most == 0:
            continue
        needles = choose_needles(
            body,
            route,
            site,
            policy,
            thick=vaccine.thick,
            finest_from=bleeding_gauge(route, body),
        )
        if needles is None or not needles.usable:
            continue
        unknown = site in row.muscle and body.deltoid is None
        found += [
            SiteOption(site=site, limb=limb, rank=rank, muscle_unknown=unknown, needles=needles)
            for limb in LIMBS
            if LIMB_KIND[limb] == sites()[site].limb and limb not in body.avoid
        ]
    return tuple(found)


def room_at(body: Body, at: str, policy: str = DEFAULT_POLICY) -> Room:
    """Room of a site, or of a whole limb ("leg", "arm"), at this age and muscle."""
    row = _limb_row(body, at, policy)
    normal, most = row.normal, row.most
    if body.deltoid in ("adequate", "adult-size"):
        normal = row.adequate_normal if row.adequate_normal is not None else normal
        most = row.adequate_most if row.adequate_most is not None else most
    if body.deltoid == "adult-size":
        most = row.adult_most if row.adult_most is not None else most
    elif body.deltoid == "small" and row.small_most is not None:
        most = row.small_most
        normal = min(normal, most)
    return Room(normal=normal, most=most, row=row)


def _limb_row(body: Body, at: str, policy: str) -> LimbRow:
    """The row of the nearest policy in the chain, else the one for all."""
    rows = [r for r in limb_rows() if r.at == at and body.in_age(r.age_from, r.age_before)]
    for key in (*(listed.head.key for listed in policy_chain(policy)), ""):
        for row in rows:
            if row.policy == key:
                return row
    raise LookupError(f"no row of limbs.toml for {at} at this age")


def why_nowhere(body: Body, route: str, policy: str) -> tuple[str, str]:
    """Why no site is left for a route, and the source of the rule."""
    row = choice_row(body, route, policy)
    if row is None:
        return f"The tables list no site for the route {route} at this age.", ""
    kept = [code for code in LIMBS if code in body.avoid]
    if kept:
        free = f"{row.why[0].upper()}{row.why[1:]}; not to be used: {', '.join(kept)}"
        small = " and the deltoid muscle is small" if row.muscle and body.deltoid == "small" else ""
        return f"{free}{small}. No site is left.", row.source
    return f"{row.why[0].upper()}{row.why[1:]}, and none of them can be used.", row.source


def side_name(limb: str) -> str:
    """left or right."""
    return SIDE_OF_LIMB[limb]


def site_row(site: str) -> SiteRow:
    return sites()[site]
