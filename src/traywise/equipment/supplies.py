"""Reading what supplies are at hand: the CSV of ``contract.md``, fault by fault.

A bad line is set aside and named; the others are read. The figures that tell a slip
(a length in inches, a gauge where a length belongs) stand in ``supplies.toml``.
"""

from __future__ import annotations

import csv
import io
from functools import cache
from pathlib import Path

import msgspec

from traywise.equipment.place import SupplyOnHand
from traywise.equipment.tables import Row, inch_rows
from traywise.errors import Fault
from traywise.rulebook.tables import load_table

MM_PER_INCH = 25.4
COLUMNS = ("item", "gauge", "length_mm", "volume_ml", "count")


class ItemRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An item of the supplies: which figures it needs and within which limits they are real."""

    needs: tuple[str, ...] = ()
    gauge_from: int = 0
    gauge_to: int = 0
    length_mm_from: float = 0
    length_mm_to: float = 0
    volume_ml_from: float = 0
    volume_ml_to: float = 0


class Supplies(msgspec.Struct, frozen=True, kw_only=True):
    """Lines read, one for each kind (duplicates added up), and every fault."""

    lines: tuple[SupplyOnHand, ...]
    faults: tuple[Fault, ...]


@cache
def item_rows() -> dict[str, ItemRow]:
    """Items by name."""
    return {row.key: row for row in load_table("supplies", ItemRow)}


def read_supplies_file(path: Path) -> Supplies:
    """The supplies of a CSV file; E001 when it cannot be read as text."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        fault = Fault(
            "supplies.E001",
            path.name,
            f"Not readable: {error}. Save it as CSV in UTF-8 and name it again.",
        )
        return Supplies(lines=(), faults=(fault,))
    return read_supplies(text, path.name)


def read_supplies(text: str, name: str = "supplies") -> Supplies:
    """The supplies of a CSV text with a header line.

    name      shown in faults
    returns   lines in the order of the file, kinds that stand twice added up (W011)
    """
    stream = io.StringIO(text.removeprefix("\ufeff"), newline=None)
    try:
        rows = list(csv.reader(stream, delimiter=_delimiter(text)))
    except csv.Error as error:
        fault = Fault("supplies.E001", name, f"Not readable as CSV: {error}. Save it again.")
        return Supplies(lines=(), faults=(fault,))
    header = [cell.strip().lower() for cell in rows[0]] if rows else []
    missing = [column for column in ("item", "count") if column not in header]
    if missing:
        fault = Fault(
            "supplies.E002",
            f"{name}, line 1",
            f"The header lacks {' and '.join(missing)}. Write: {', '.join(COLUMNS)}.",
        )
        return Supplies(lines=(), faults=(fault,))
    faults = [
        Fault("supplies.W012", f"{name}, line 1", f'The column "{column}" is not used.')
        for column in header
        if column and column not in COLUMNS
    ]
    kinds: dict[SupplyOnHand, int] = {}
    for number, cells in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in cells):
            continue
        values = dict(zip(header, (cell.strip() for cell in cells), strict=False))
        line, line_faults = _read_line(values, f"{name}, line {number}")
        faults += line_faults
        if line is None:
            continue
        kind = msgspec.structs.replace(line, count=0)
        if kind in kinds:
            faults.append(
                Fault(
                    "supplies.W011",
                    f"{name}, line {number}",
                    f"{describe_item(kind)} stands twice. The counts were added up; "
                    "take one line out if it is the same box.",
                )
            )
        kinds[kind] = kinds.get(kind, 0) + line.count
    lines = tuple(msgspec.structs.replace(kind, count=count) for kind, count in kinds.items())
    return Supplies(lines=lines, faults=tuple(faults))


def _delimiter(text: str) -> str:
    """Semicolons where a spreadsheet wrote them in place of commas."""
    first = text.partition("\n")[0]
    return ";" if first.count(";") > first.count(",") else ","


def _read_line(values: dict[str, str], at: str) -> tuple[SupplyOnHand | None, list[Fault]]:
    item = values.get("item", "").lower()
    row = item_rows().get(item)
    if row is None:
        known = ", ".join(item_rows())
        return None, [
            Fault("supplies.E003", f"{at}, column item", f'"{item}" is unknown. Write {known}.')
        ]
    faults: list[Fault] = []
    count = _count(values.get("count", ""), f"{at}, column count", faults)
    gauge = length_mm = None
    volume_ml = None
    if "gauge" in row.needs:
        gauge = _gauge(values.get("gauge", ""), row, f"{at}, column gauge", faults)
    if "length_mm" in row.needs:
        length_mm = _length(values.get("length_mm", ""), row, f"{at}, column length_mm", faults)
    if "volume_ml" in row.needs:
        volume_ml = _volume(values.get("volume_ml", ""), row, f"{at}, column volume_ml", faults)
    if faults or count is None:
        return None, faults
    line = SupplyOnHand(
        item=item, count=count, gauge=gauge, length_mm=length_mm, volume_ml=volume_ml
    )
    return line, []


def _count(text: str, at: str, faults: list[Fault]) -> int | None:
    number = _number(text)
    if number is None or number != int(number):
        faults.append(
            Fault("supplies.E004", at, f'"{text}" is not a count. Write a whole number, 0 if none.')
        )
        return None
    if number < 0:
        faults.append(
            Fault("supplies.E005", at, f"{text} is less than nothing. Count again; 0 if none.")
        )
        return None
    return int(number)


def _gauge(text: str, row: ItemRow, at: str, faults: list[Fault]) -> int | None:
    number = _number(text.upper().removesuffix("G"))
    if number is None or number != int(number):
        faults.append(
            Fault("supplies.E006", at, f'"{text}" is not a gauge. Write the number on the box: 25.')
        )
        return None
    if not row.gauge_from <= number <= row.gauge_to:
        faults.append(
            Fault(
                "supplies.E007",
                at,
                f"{text} gauge is no needle for injections ({row.gauge_from} to {row.gauge_to}). "
                "Are gauge and length swapped?",
            )
        )
        return None
    return int(number)


def _length(text: str, row: ItemRow, at: str, faults: list[Fault]) -> int | None:
    inch = _as_inches(text, row)
    if inch is not None:
        mm = next((r.mm for r in inch_rows() if abs(r.value - inch) < 0.02), None)
        remedy = f"write {mm}" if mm else "write the millimetres printed on the box"
        faults.append(
            Fault("supplies.E008", at, f'"{text}" looks like inches. In millimetres: {remedy}.')
        )
        return None
    number = _number(text.lower().removesuffix("mm"))
    if number is None:
        faults.append(
            Fault("supplies.E009", at, f'"{text}" is not a length. Write millimetres: 25.')
        )
        return None
    if not row.length_mm_from <= number <= row.length_mm_to:
        faults.append(
            Fault(
                "supplies.E009",
                at,
                f"{text} mm is no needle length ({row.length_mm_from:g} to "
                f"{row.length_mm_to:g} mm). Write the millimetres printed on the box.",
            )
        )
        return None
    return round(number)


def _as_inches(text: str, row: ItemRow) -> float | None:
    """The number of inches where the text can only mean inches; None otherwise."""
    marked = any(mark in text for mark in ('"', "″", "in"))
    bare = text.replace('"', "").replace("″", "").replace("inch", "").replace("in", "").strip()
    number = _number(bare)
    if number is None:
        return _fraction(bare)
    too_short = 0 < number < row.length_mm_from and number * MM_PER_INCH <= row.length_mm_to
    return number if marked or too_short else None


def _fraction(text: str) -> float | None:
    """ "1 1/2", "5/8", "1-1/2", "1½" as a number.

    >>> _fraction("1 1/2"), _fraction("1¼"), _fraction("x")
    (1.5, 1.25, None)
    """
    for sign, spelled in (("½", " 1/2"), ("¼", " 1/4"), ("⅝", " 5/8"), ("⅜", " 3/8")):
        text = text.replace(sign, spelled)
    total = 0.0
    for part in text.replace("-", " ").split():
        top, slash, bottom = part.partition("/")
        if not top.isdigit() or (slash and not (bottom.isdigit() and int(bottom))):
            return None
        total += int(top) / (int(bottom) if slash else 1)
    return total or None


def _volume(text: str, row: ItemRow, at: str, faults: list[Fault]) -> float | None:
    number = _number(text.lower().removesuffix("ml"))
    if number is None or not row.volume_ml_from <= number <= row.volume_ml_to:
        faults.append(
            Fault(
                "supplies.E010",
                at,
                f'"{text}" is not a syringe size. Write millilitres, '
                f"{row.volume_ml_from:g} to {row.volume_ml_to:g}: 1.",
            )
        )
        return None
    return number


def _number(text: str) -> float | None:
    """A plain decimal number, comma or point; None for anything else (nan and inf too)."""
    text = text.strip().replace(",", ".")
    try:
        number = float(text)
    except ValueError:
        return None
    return number if abs(number) < 1e9 else None


def describe_item(line: SupplyOnHand) -> str:
    """One line of the supplies in words.

    >>> describe_item(SupplyOnHand(item="needle", count=3, gauge=25, length_mm=16))
    'needle 25 G × 16 mm'
    """
    parts = [line.item]
    if line.gauge is not None:
        parts.append(f"{line.gauge} G × {line.length_mm} mm")
    if line.volume_ml is not None:
        parts.append(f"{line.volume_ml:g} mL")
    return " ".join(parts)
