"""Reading what supplies are at hand: the CSV of ``contract.md``, fault by fault.

The one reading of a supplies list, for the tray, the session and the forecast of needles.
A bad line is set aside and named; the others are read.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import msgspec

from traywise.equipment.in_date import is_expired
from traywise.equipment.place import SupplyOnHand
from traywise.equipment.supply_cells import read_cells
from traywise.errors import Fault
from traywise.record.decode_text import decode_text

COLUMNS = ("item", "gauge", "length_mm", "volume_ml", "count")
OPTIONAL = ("expires", "box")
SUPPLIES_UNREAD = "supplies.E015"


class SupplyLine(msgspec.Struct, frozen=True, kw_only=True):
    """One line that was read: the supply, all cells by column, and where it stands."""

    supply: SupplyOnHand
    cells: dict[str, str]
    at: str


class Supplies(msgspec.Struct, frozen=True, kw_only=True):
    """Lines read, one for each kind and expiry (duplicates added up), and every fault."""

    lines: tuple[SupplyOnHand, ...]
    faults: tuple[Fault, ...]


def read_supplies_file(path: Path, *, on: date | None = None) -> Supplies:
    """The supplies of a CSV file; E001 when it cannot be read as text."""
    try:
        content = path.read_bytes()
    except OSError as error:
        text = f"Cannot be read: {error.strerror}. Check the path."
        return Supplies(lines=(), faults=(Fault("supplies.E001", path.name, text),))
    return read_supplies(content, path.name, on=on)


def read_supplies(
    source: bytes | str, name: str = "supplies", *, on: date | None = None
) -> Supplies:
    """The supplies of a CSV with a header line.

    name      shown in faults
    on        the day of use: what has expired by then is warned about (W013)
    returns   lines in the order of the file; of a kind that stands twice with one expiry the
              counts are added up (W011)
    """
    lines, faults = read_supply_lines(source, name)
    kinds: dict[SupplyOnHand, SupplyOnHand] = {}
    for line in lines:
        supply = line.supply
        kind = msgspec.structs.replace(supply, count=0, box=None)
        if kind in kinds:
            first = kinds[kind]
            faults.append(
                Fault(
                    "supplies.W011",
                    line.at,
                    f"{describe_item(kind)} stands twice. The counts were added up; "
                    "take one line out if it is the same box.",
                )
            )
            supply = msgspec.structs.replace(
                first, count=first.count + supply.count, box=first.box or supply.box
            )
        kinds[kind] = supply
        if on is not None and is_expired(line.supply, on) and line.supply.count:
            faults.append(_expired(line))
    return Supplies(lines=tuple(kinds.values()), faults=tuple(faults))


def nothing_read(supplies: Supplies, name: str) -> Fault | None:
    """The fault of the whole list when its faults leave not one line: not nothing, but unknown."""
    if supplies.lines or not any(fault.is_error for fault in supplies.faults):
        return None
    text = (
        "The supplies could not be read: with the faults of this file not one line of it can be "
        "used, so what is at hand is not known. Mend the file and ask again."
    )
    return Fault(SUPPLIES_UNREAD, name, text)


def _expired(line: SupplyLine) -> Fault:
    supply = line.supply
    return Fault(
        "supplies.W013",
        f"{line.at}, column expires",
        f"{supply.count} × {describe_item(supply)} expired on {supply.expires}. "
        "They are not laid ready; take them out.",
    )


def read_supply_lines(
    source: bytes | str, name: str, also: Sequence[str] = ()
) -> tuple[list[SupplyLine], list[Fault]]:
    """Every line of a CSV whose columns are those of the supplies, and every fault.

    also  further columns that the caller reads itself, from ``cells``
    """
    text, found = decode_text(source, name, old_windows=True)
    faults = [Fault(f.code.replace("record.", "supplies."), f.at, f.text) for f in found]
    if text is None:
        return [], faults
    try:
        rows = list(csv.reader(io.StringIO(text, newline=None), delimiter=_delimiter(text)))
    except csv.Error as error:
        fault = Fault("supplies.E001", name, f"Not readable as CSV: {error}. Save it again.")
        return [], [*faults, fault]
    header = [cell.strip().lower() for cell in rows[0]] if rows else []
    found, usable = _check_header(header, f"{name}, line 1", also)
    faults += found
    lines = []
    for number, row in enumerate(rows[1:], start=2) if usable else ():
        if any(cell.strip() for cell in row):
            at = f"{name}, line {number}"
            cells = dict(zip(header, (cell.strip() for cell in row), strict=False))
            supply, line_faults = read_cells(cells, at)
            faults += line_faults
            if supply is not None:
                lines.append(SupplyLine(supply=supply, cells=cells, at=at))
    return lines, faults


def _check_header(header: list[str], at: str, also: Sequence[str]) -> tuple[list[Fault], bool]:
    """Faults of the header, and whether the lines below it can be read."""
    missing = [column for column in ("item", "count") if column not in header]
    if missing:
        known = ", ".join((*COLUMNS, *OPTIONAL))
        text = f"The header lacks {' and '.join(missing)}. Write: {known}."
        return [Fault("supplies.E002", at, text)], False
    return [
        Fault("supplies.W012", at, f'The column "{column}" is not used.')
        for column in header
        if column and column not in (*COLUMNS, *OPTIONAL, *also)
    ], True


def _delimiter(text: str) -> str:
    """Semicolons or tabs where a spreadsheet wrote them in place of commas."""
    first = text.partition("\n")[0]
    return max(",;\t", key=lambda mark: (first.count(mark), mark == ","))


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
