"""Reads what visits use and what is at hand, for the forecast of needles.

Visits: the JSON that a tray or session prints (an object, a list, or a line each), or a CSV
``visit, item, gauge, length_mm, volume_ml, count, route``. Stock: the supplies CSV with two
more columns, ``expires`` and ``box``. Every fault is named; good lines are still used.
"""

from __future__ import annotations

import calendar
import csv
import io
import json
import re
from collections.abc import Iterator
from datetime import date

import msgspec

from traywise.equipment.place import SupplyOnHand
from traywise.equipment.supplies import COLUMNS, read_supplies
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
    uses: dict[str, list[tuple[Kind, int]]] = {}
    routes: dict[str, list[tuple[Kind, str]]] = {}
    faults: list[Fault] = []
    for cells, line, at in _lines(text, name, ("visit", "route"), faults):
        visit = cells.get("visit", "")
        if not visit:
            faults.append(
                Fault("needles.E204", f"{at}, column visit", "Write which visit uses this.")
            )
            continue
        kind = Kind(line.item, line.gauge, line.length_mm, line.volume_ml)
        uses.setdefault(visit, []).append((kind, line.count))
        if cells.get("route"):
            routes.setdefault(visit, []).extend([(kind, cells["route"].upper())] * line.count)
    return [visit_of(uses[visit], routes.get(visit, ())) for visit in uses], faults


def _lines(
    text: str, name: str, more: tuple[str, ...], faults: list[Fault]
) -> Iterator[tuple[dict[str, str], SupplyOnHand, str]]:
    """Each line as cells and as a supply; the supplies reader judges its own columns."""
    rows = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"))))
    if not rows:
        faults.append(Fault("needles.E203", name, "The file is empty. Write a header and lines."))
        return
    header = [cell.strip().lower() for cell in rows[0]]
    own = [place for place, column in enumerate(header) if column in COLUMNS]
    lacking = read_supplies(",".join(header[place] for place in own) + "\n", name)
    if lacking.faults:
        faults += lacking.faults
        return
    for number, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        cells = dict(zip(header, (cell.strip() for cell in row), strict=False))
        buffer = io.StringIO()
        writer = csv.writer(buffer)
        writer.writerow([header[place] for place in own])
        writer.writerow([row[place] if place < len(row) else "" for place in own])
        found = read_supplies(buffer.getvalue(), name)
        at = f"{name}, line {number}"
        faults += [
            Fault(fault.code, fault.at.replace(f"{name}, line 2", at), fault.text)
            for fault in found.faults
        ]
        unknown = [column for column in header if column not in (*COLUMNS, *more)]
        if number == 2 and unknown:
            text_of = f"Not used: {', '.join(unknown)}."
            faults.append(Fault("needles.W205", f"{name}, line 1", text_of))
        for line in found.lines:
            yield cells, line, at


def read_lots(text: str, name: str) -> tuple[list[StockLot], list[Fault]]:
    """Supplies at hand with their expiry and box; a bad date or box sets the line aside."""
    lots: list[StockLot] = []
    faults: list[Fault] = []
    for cells, line, at in _lines(text, name, ("expires", "box"), faults):
        try:
            expires = read_expiry(cells.get("expires", ""))
            box = _read_box(cells.get("box", ""))
        except ValueError as error:
            faults.append(Fault("needles.E206", at, str(error)))
            continue
        kind = Kind(line.item, line.gauge, line.length_mm, line.volume_ml)
        lots.append(StockLot(kind=kind, count=line.count, expires=expires, box=box))
    return lots, faults


def read_expiry(text: str) -> date | None:
    """A day, or the last day of a month; None when empty. Raises ValueError with the remedy.

    >>> read_expiry("2027-02"), read_expiry("2027-02-10"), read_expiry("")
    (datetime.date(2027, 2, 28), datetime.date(2027, 2, 10), None)
    """
    if not text:
        return None
    month = re.fullmatch(r"(\d{4})-(\d{2})", text)
    try:
        if month:
            year, number = int(month[1]), int(month[2])
            return date(year, number, calendar.monthrange(year, number)[1])
        return date.fromisoformat(text)
    except (ValueError, calendar.IllegalMonthError):
        raise ValueError(f'"{text}" is no date. Write YYYY-MM-DD or YYYY-MM.') from None


def _read_box(text: str) -> int | None:
    if not text:
        return None
    if not text.isdigit() or int(text) < 1:
        raise ValueError(f'"{text}" is no box size. Write the pieces in one box: 100.')
    return int(text)
