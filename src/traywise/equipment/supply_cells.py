"""One line of a supplies list: its cells, each with what is wrong and what to write.

The figures that tell a slip (a length in inches, a gauge where a length belongs) stand in
``supplies.toml``.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import cache

from traywise.equipment.place import SupplyOnHand
from traywise.equipment.tables import Row, inch_rows
from traywise.errors import Fault
from traywise.record.values import BadValue, read_expiry
from traywise.rulebook.tables import load_table

MM_PER_INCH = 25.4


class ItemRow(Row, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An item of the supplies: which figures it needs and within which limits they are real."""

    needs: tuple[str, ...] = ()
    gauge_from: int = 0
    gauge_to: int = 0
    length_mm_from: float = 0
    length_mm_to: float = 0
    volume_ml_from: float = 0
    volume_ml_to: float = 0


@cache
def item_rows() -> dict[str, ItemRow]:
    """Items by name."""
    return {row.key: row for row in load_table("supplies", ItemRow)}


def read_cells(values: Mapping[str, str], at: str) -> tuple[SupplyOnHand | None, list[Fault]]:
    """One line by column: the supply, or None when a fault sets it aside; and its faults."""
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
    expires = _expires(values.get("expires", ""), f"{at}, column expires", faults)
    if faults or count is None:
        return None, faults
    box = _box(values.get("box", ""), f"{at}, column box", faults)
    line = SupplyOnHand(
        item=item,
        count=count,
        gauge=gauge,
        length_mm=length_mm,
        volume_ml=volume_ml,
        expires=expires,
        box=box,
    )
    return line, faults


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


def _expires(text: str, at: str, faults: list[Fault]) -> date | None:
    """The last day of use; a month without a day is usable through its last day."""
    if not text:
        return None
    try:
        return read_expiry(text)
    except BadValue as bad:
        words = bad.text
        if bad.code == "record.E022":
            words = f'"{text}" does not say the month. Write YYYY-MM-DD or YYYY-MM.'
        faults.append(Fault("supplies.E013", at, words))
        return None


def _box(text: str, at: str, faults: list[Fault]) -> int | None:
    """Pieces in one box; a bad cell is only warned about, for the pieces are there all the same."""
    number = _number(text)
    if not text or (number is not None and number >= 1 and number == int(number)):
        return None if number is None else int(number)
    faults.append(
        Fault("supplies.W014", at, f'"{text}" is no box size. Write the pieces in one box: 100.')
    )
    return None


def _number(text: str) -> float | None:
    """A plain decimal number, comma or point; None for anything else (nan and inf too)."""
    text = text.strip().replace(",", ".")
    try:
        number = float(text)
    except ValueError:
        return None
    return number if abs(number) < 1e9 else None
