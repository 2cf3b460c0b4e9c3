"""A second pair of eyes: whether a finished layout keeps the rules of the tables.

Written from the rules, not from the planner: it reads the tables as plain TOML and shares
with the planner only the shapes of its answer and the calendar. An empty list means that
nothing was found wrong.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from datetime import date
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

from traywise.calendar import add, parse_span
from traywise.equipment.place import Layout, PlaceEquipment
from traywise.record.child import Child
from traywise.rulebook.tables import EDITIONS

TomlRow = dict[str, Any]


def check_layout(child: Child, on: date, layout: Layout) -> list[str]:
    """Every breach of the rules in ``layout``, in words; empty if there is none."""
    injected = [place for place in layout.places if place.site_key is not None]
    found = [*_check_order(layout.places), *_check_parts(layout.places)]
    for place in layout.places:
        name = place.what.vaccine.key
        if place.site_key is None:
            found += [f"{name}: {text}" for text in _check_without_needle(place)]
            continue
        checks = (_check_route, _check_site, _check_needle, _check_syringe)
        for check in checks:
            found += [f"{name}: {text}" for text in check(place, child, on, layout.policy)]
    found += _check_room(injected, child, on, layout.policy)
    found += _check_neighbours(injected)
    return found


@cache
def _table(name: str, array: str = "row") -> list[TomlRow]:
    text = (EDITIONS / "tables" / f"{name}.toml").read_text(encoding="utf-8")
    rows: list[TomlRow] = tomllib.loads(text)[array]
    return rows


def _of_age(rows: Sequence[TomlRow], child: Child, on: date) -> Iterator[TomlRow]:
    for row in rows:
        start = add(child.born, parse_span(row["age_from"]))
        if start <= on < add(child.born, parse_span(row["age_before"])):
            yield row


def _listed(rows: Sequence[TomlRow], policy: str, **wanted: str) -> list[TomlRow]:
    """Rows with the wanted values, of the policy or of the one it falls back to."""
    heads = {row["key"]: row for row in _table("needles", "policy")}
    own = [row for row in rows if row["policy"] == policy]
    if policy.endswith(".toml"):
        file = tomllib.loads(Path(policy).read_text(encoding="utf-8"))
        heads[policy] = file["policy"][0]
        own = file.get("row" if "lengths_mm" in rows[0] else "choice", [])
    same = [row for row in own if all(row[key] == value for key, value in wanted.items())]
    following = heads[policy].get("falls_back_to")
    if same or not following:
        return same
    return _listed(rows, following, **wanted)


def _chain(policy: str) -> list[str]:
    """Keys of the shipped policies asked in turn."""
    heads = {row["key"]: row for row in _table("needles", "policy")}
    if policy.endswith(".toml"):
        file = tomllib.loads(Path(policy).read_text(encoding="utf-8"))
        policy = file["policy"][0]["falls_back_to"]
    following = heads[policy].get("falls_back_to")
    return [policy, *(_chain(following) if following else [])]


def _muscle(child: Child, on: date) -> str:
    keys = child.conditions_on(on)
    if "deltoid-muscle-small" in keys:
        return "small"
    if "deltoid-muscle-adult-size" in keys:
        return "adult"
    return "adequate" if "deltoid-muscle-adequate" in keys else "unknown"


def _bleeds(child: Child, on: date) -> bool:
    return bool({"bleeding-disorder", "anticoagulant"} & child.conditions_on(on))


def _check_route(place: PlaceEquipment, child: Child, on: date, policy: str) -> Iterator[str]:
    routes = place.what.vaccine.routes
    if place.route not in routes:
        yield f"route {place.route} is not one of {routes}"
    elif place.route != routes[0] and not _bleeds(child, on):
        yield f"route {place.route} without a reason, {routes[0]} comes first"
    rows = [row for row in _table("techniques") if row["route"] == place.route]
    if place.angle_deg not in {row.get("angle_deg") for row in rows}:
        yield f"angle {place.angle_deg}° does not belong to {place.route}"


def _check_site(place: PlaceEquipment, child: Child, on: date, policy: str) -> Iterator[str]:
    choices = _listed(_table("sites", "choice"), policy, route=place.route)
    row = next(_of_age(choices, child, on), None)
    if row is None or place.site_key not in row["sites"]:
        yield f"{place.site_key} is not listed for {place.route} at this age"
    elif place.site_key in row.get("muscle", ()) and _muscle(child, on) == "small":
        yield "deltoid although its muscle is small"
    site = next(row for row in _table("sites", "site") if row["key"] == place.site_key)
    side = "left" if (place.limb or "")[:1] == "L" else "right"
    limb = {"leg": "T", "arm": "A"}[site["limb"]]
    if place.limb != side[0].upper() + limb or place.site != site[side]:
        yield f"site {place.site} and limb {place.limb} do not fit {place.site_key}"
    blocked = {code[0] + {"D": "A", "VL": "T"}.get(code[1:], code[1:]) for code in child.avoid}
    if place.limb in blocked:
        yield f"{place.limb} is to be avoided"


def _fits(row: TomlRow, child: Child, on: date) -> bool:
    kg = child.weight_kg
    if kg is not None and child.weighed_on is not None and child.weighed_on > on:
        kg = None
    limits = (("kg_from", 1, 0), ("kg_above", 1, 1), ("kg_before", -1, 1), ("kg_to", -1, 0))
    for key, sign, strict in limits:
        if key not in row:
            continue
        if kg is None or sign * (kg - row[key]) < 0 or (strict and kg == row[key]):
            return False
    if row.get("sex", child.sex) != child.sex:
        return False
    weeks = row.get("born_before_weeks")
    if weeks is None:
        return True
    if child.gestation_weeks is None:
        return "preterm" in child.conditions_on(on)
    return bool(child.gestation_weeks < weeks)


def _check_needle(place: PlaceEquipment, child: Child, on: date, policy: str) -> Iterator[str]:
    needle = place.needle
    site = place.site_key or ""
    rows = _listed(_table("needles"), policy, route=place.route, site=site)
    row = next((row for row in _of_age(rows, child, on) if _fits(row, child, on)), None)
    if row is not None and row.get("device"):
        if needle or place.needle_missing:
            yield f"a needle beside the {row['device']}"
        return
    if needle is None:
        if not place.needle_missing:
            yield "no needle and no word of what is missing"
        return
    if row is None:
        yield f"no needle is listed for {place.route} at {site}"
        return
    if needle.length_mm not in row["lengths_mm"]:
        yield f"{needle.length_mm} mm is not one of {row['lengths_mm']}"
    if needle.gauge not in row["gauges"]:
        yield f"{needle.gauge} gauge is not one of {row['gauges']}"
    finest = next(r["value"] for r in _table("layout", "rule") if r["key"] == "bleeding-gauge")
    if _bleeds(child, on) and place.route in ("IM", "SC") and needle.gauge < finest:
        yield f"{needle.gauge} gauge for a child who bleeds"
    stretched = needle.length_mm in row.get("stretched_mm", ())
    if stretched != ("stretched" in place.technique):
        yield f"technique does not fit {needle.length_mm} mm: {place.technique}"


def _check_syringe(place: PlaceEquipment, child: Child, on: date, policy: str) -> Iterator[str]:
    if place.what.presentation == "prefilled":
        if place.syringe_ml is not None:
            yield "a second syringe for a ready-filled one"
    elif place.syringe_ml is None:
        if not place.syringe_missing:
            yield "no syringe and no word of what is missing"
    elif place.syringe_ml < place.what.volume_ml:
        yield f"{place.what.volume_ml} mL do not fit a {place.syringe_ml} mL syringe"


def _check_without_needle(place: PlaceEquipment) -> Iterator[str]:
    if place.route not in ("PO", "NAS"):
        yield f"route {place.route} without a site"
    if place.needle or place.site or place.angle_deg is not None or place.needle_missing:
        yield "by mouth or nose, yet with a needle, site or angle"


def _check_order(places: Sequence[PlaceEquipment]) -> Iterator[str]:
    stage = {"PO": 0, "NAS": 1}
    for before, after in pairwise(places):
        one, two = stage.get(before.route, 2), stage.get(after.route, 2)
        sorer = before.what.vaccine.soreness > after.what.vaccine.soreness
        if one > two or (one == two == 2 and sorer):
            yield f"{before.what.vaccine.key} is given before {after.what.vaccine.key}"


def _check_parts(places: Sequence[PlaceEquipment]) -> Iterator[str]:
    for dose in sorted({place.dose for place in places}):
        same = [place for place in places if place.dose == dose]
        wanted = same[0].what.injections if same[0].site_key else 1
        if sorted(place.part for place in same) != list(range(1, wanted + 1)):
            yield f"{same[0].what.vaccine.key}: {len(same)} of {wanted} injections have a place"


def _most(at: str, child: Child, on: date, policy: str) -> int:
    rows = [row for row in _of_age(_table("limbs"), child, on) if row["at"] == at]
    own = [row for key in _chain(policy) for row in rows if row.get("policy") == key]
    row = [*own, *(row for row in rows if "policy" not in row)][0]
    keys = {
        "small": ("small_most",),
        "adequate": ("adequate_most",),
        "adult": ("adult_most", "adequate_most"),
    }.get(_muscle(child, on), ())
    return int(next((row[key] for key in keys if key in row), row["most"]))


def _check_room(
    places: Sequence[PlaceEquipment], child: Child, on: date, policy: str
) -> Iterator[str]:
    for limb in sorted({place.limb for place in places if place.limb}):
        there = [place for place in places if place.limb == limb]
        kind = "leg" if limb.endswith("T") else "arm"
        most = _most(kind, child, on, policy)
        if len(there) > most:
            yield f"{limb} holds {len(there)} injections, at most {most}"
        for site in sorted({place.site_key for place in there if place.site_key}):
            count = sum(place.site_key == site for place in there)
            most = _most(site, child, on, policy)
            if count > most:
                yield f"{limb} {site} holds {count} injections, at most {most}"


def _check_neighbours(places: Sequence[PlaceEquipment]) -> Iterator[str]:
    spacing = next(r["value"] for r in _table("layout", "rule") if r["key"] == "spacing-mm")
    for one, two in combinations(places, 2):
        if one.limb != two.limb:
            continue
        names = f"{one.what.vaccine.key} and {two.what.vaccine.key}"
        if (one.site_key, one.position) == (two.site_key, two.position):
            yield f"{names}: the same spot"
        if min(one.apart_mm or 0, two.apart_mm or 0) < spacing:
            yield f"{names}: less than {spacing} mm apart"
        for antibody, other in ((one, two), (two, one)):
            against = antibody.what.vaccine.against
            groups = {*other.what.groups, *other.what.vaccine.groups}
            if against and against in groups and not other.what.vaccine.globulin:
                yield f"{names}: antibody and vaccine in one limb"
