"""Reads what visits use and what is at hand, for the forecast of needles.

Visits: the JSON that a tray or session prints (an object, a list, or a line each), or a CSV
``visit, item, gauge, length_mm, volume_ml, count, route``. Stock: the supplies list, with
``expires`` and ``box`` where known. Every fault is named; good lines are still used.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence

import msgspec

from traywise.equipment.place import SupplyOnHand
from traywise.equipment.supplies import read_supply_lines
from traywise.errors import Fault
from traywise.session.needle_order import StockLot
from traywise.session.needles import Kind, Visit, visit_of, visit_of_places
from traywise.tray.plan import Needle, Supply


class _Place(msgspec.Struct, frozen=True):
    route: str
    needle: Needle | None = None


class _Answer(msgspec.Struct, frozen=True):
    supplies: tuple[Supply, ...]
    tray: tuple[_Place, ...] = ()


def read_visits(text: str, name: str) -> tuple[list[Visit], list[Fault]]:
    """Visits of a file and every fault (codes needles.E201 to E204)."""
    if text.lstrip()[:1] in ("{", "["):
        return _read_json(text, name)
    return _read_csv(text, name)


def _read_json(text: str, name: str) -> tuple[list[Visit], list[Fault]]:
    visits: list[Visit] = []
    faults: list[Fault] = []
    for at, value in _json_values(text, name, faults):
        for answer in _answers_in(value):
            try:
                visits.append(_read_visit(answer))
            except msgspec.ValidationError as error:
                faults.append(Fault("needles.E202", at, f"Not the shape of a tray: {error}."))
    if not visits and not faults:
        faults.append(
            Fault("needles.E203", name, 'No tray with "supplies" in it. Give a tray or session.')
        )
    return visits, faults


def _json_values(text: str, name: str, faults: list[Fault]) -> Iterator[tuple[str, object]]:
    try:
        yield name, json.loads(text)
        return
    except RecursionError:
        faults.append(Fault("needles.E201", name, "Nested too deep to be a tray or session."))
        return
    except json.JSONDecodeError as error:
        whole = error
    lines = [(n, line) for n, line in enumerate(text.splitlines(), start=1) if line.strip()]
    if len(lines) == 1:
        faults.append(Fault("needles.E201", name, f"Not readable as JSON: {whole}. Mend it."))
        return
    for number, line in lines:
        try:
            yield f"{name}, line {number}", json.loads(line)
        except (json.JSONDecodeError, RecursionError) as error:
            faults.append(
                Fault("needles.E201", f"{name}, line {number}", f"Not JSON: {error}. Mend it.")
            )


def _answers_in(value: object) -> Iterator[dict[str, object]]:
    """Trays wherever they stand: the innermost objects with both tray and supplies."""
    if isinstance(value, list):
        for item in value:
            yield from _answers_in(item)
    elif isinstance(value, dict):
        # A session also sums up its supplies: only an object with a tray is one visit.
        if isinstance(value.get("supplies"), list) and isinstance(value.get("tray"), list):
            yield value
        else:
            for item in value.values():
                yield from _answers_in(item)


def _read_visit(answer: dict[str, object]) -> Visit:
    read = msgspec.convert(answer, _Answer)
    return visit_of_places(read.supplies, [(place.route, place.needle) for place in read.tray])


def _read_csv(text: str, name: str) -> tuple[list[Visit], list[Fault]]:
    if not text.strip():
        fault = Fault("needles.E203", name, "The file is empty. Write a header and lines.")
        return [], [fault]
    uses: dict[str, list[tuple[Kind, int]]] = {}
    routes: dict[str, list[tuple[Kind, str]]] = {}
    lines, faults = read_supply_lines(text, name, also=("visit", "route"))
    for line in lines:
        visit = line.cells.get("visit", "")
        if not visit:
            faults.append(
                Fault("needles.E204", f"{line.at}, column visit", "Write which visit uses this.")
            )
            continue
        kind, count = _kind(line.supply), line.supply.count
        uses.setdefault(visit, []).append((kind, count))
        if line.cells.get("route"):
            routes.setdefault(visit, []).extend([(kind, line.cells["route"].upper())] * count)
    return [visit_of(uses[visit], routes.get(visit, ())) for visit in uses], faults


def lots_of(supplies: Sequence[SupplyOnHand]) -> list[StockLot]:
    """Supplies at hand as stock of the forecast, each expiry a lot of its own."""
    return [
        StockLot(kind=_kind(one), count=one.count, expires=one.expires, box=one.box)
        for one in supplies
    ]


def _kind(supply: SupplyOnHand) -> Kind:
    return Kind(supply.item, supply.gauge, supply.length_mm, supply.volume_ml)
