"""GS1 element strings for labels: raw with separators for a scan, in brackets for print.

Fixed lengths first, so that one separator is enough.
"""

from __future__ import annotations

from datetime import date

from traywise.errors import Fault, InputError
from traywise.exchange.gs1.dates import read_gs1_date, write_gs1_date
from traywise.exchange.gs1.read_scan import GS, check_value
from traywise.rulebook.gs1_identifiers import gs1_identifiers


def write_element_string(
    *, gtin: str, expires: date, lot: str, serial: str | None = None, today: date | None = None
) -> str:
    """The raw string; raises InputError when a part is not fit for a label.

    >>> write_element_string(gtin="00349281589058", expires=date(2028, 2, 29), lot="A1").encode()
    b'01003492815890581728022910A1'
    """
    elements = _elements(gtin, expires, lot, serial, today)
    text = ""
    for number, (key, value) in enumerate(elements, start=1):
        open_end = not gs1_identifiers()[key].fixed and number < len(elements)
        text += key + value + (GS if open_end else "")
    return text


def write_bracketed(
    *, gtin: str, expires: date, lot: str, serial: str | None = None, today: date | None = None
) -> str:
    """The bracket form, as barcode software takes it; raises InputError likewise.

    >>> write_bracketed(gtin="00349281589058", expires=date(2028, 2, 29), lot="A1")
    '(01)00349281589058(17)280229(10)A1'
    """
    return "".join(f"({key}){value}" for key, value in _elements(gtin, expires, lot, serial, today))


def _elements(
    gtin: str, expires: date, lot: str, serial: str | None, today: date | None
) -> list[tuple[str, str]]:
    """The elements of a label, checked as a scan would be: what would not scan is not printed."""
    today = today or date.today()
    elements = [("01", gtin), ("17", write_gs1_date(expires)), ("10", lot)]
    if serial:
        elements.append(("21", serial))
    faults = [
        fault
        for key, value in elements
        for fault in check_value(gs1_identifiers()[key], value, today)
    ]
    if read_gs1_date(write_gs1_date(expires), today) != expires:
        said = f"{expires} is too far from today for a date with a year of two digits."
        faults.append(Fault("exchange.E205", "label, (17)", said))
    if faults:
        raise InputError(faults)
    return elements
