"""One cell of a shelf file: a typed value comes out, or BadCell says what to write."""

from __future__ import annotations

import re
from datetime import date, datetime, tzinfo

from traywise.record.values import BadValue, read_cvx, read_expiry
from traywise.rulebook.codes import cvx_codes
from traywise.rulebook.vaccines import vaccines, vaccines_by_cvx
from traywise.shelf.clock import to_instant
from traywise.shelf.lot import FUNDINGS, PRESENTATIONS

_WHOLE = re.compile(r"([+-]?\d+)([.,]0+)?")
_MONEY = re.compile(r"-?\d+([.,]\d+)?")
_SPREADSHEET_NUMBER = re.compile(r"\d([.,]\d+)?E[+-]?\d+", re.IGNORECASE)


class BadCell(Exception):  # noqa: N818 - a refusal with its remedy, caught by the reader only
    """A cell that cannot be taken: fault code and what to write instead."""

    def __init__(self, code: str, text: str):
        super().__init__(text)
        self.code, self.text = code, text


def read_lot(text: str) -> str:
    """The lot number as printed."""
    if not text:
        raise BadCell("shelf.E010", "The lot number is missing. Copy it from the carton.")
    return text


def looks_mangled(lot: str) -> bool:
    """Whether a spreadsheet seems to have turned a lot number into a power of ten.

    >>> looks_mangled("1.2E+05"), looks_mangled("E1234")
    (True, False)
    """
    return _SPREADSHEET_NUMBER.fullmatch(lot) is not None


def read_product_code(text: str) -> str:
    """A CVX code of a product that can be given, with its leading zero.

    >>> read_product_code("8")
    '08'
    """
    try:
        code = read_cvx(text)
    except BadValue as bad:
        number = "shelf.E020" if bad.code == "record.E026" else "shelf.E021"
        raise BadCell(
            number, f'"{text}" is no CVX code we know. Write the number: "03", "110".'
        ) from None
    if code not in vaccines_by_cvx():
        name = cvx_codes()[code].name
        raise BadCell(
            "shelf.E022",
            f"CVX {code} ({name}) names no product that can be given here. "
            "Write the code of the product in hand, as its carton or invoice shows.",
        )
    return code


def read_vaccine_key(text: str, cvx: str) -> str:
    """A product key for a code that stands for several products."""
    fitting = [key for key, vaccine in vaccines().items() if cvx in vaccine.cvx]
    if text and text not in fitting:
        raise BadCell(
            "shelf.E023",
            f'"{text}" is no product of CVX {cvx}. Leave it empty or write one of '
            f"{', '.join(fitting)}.",
        )
    return text


def read_presentation(text: str) -> str:
    """One of the seven presentations."""
    word = text.lower().replace(" ", "").replace("-", "")
    if word not in PRESENTATIONS:
        raise BadCell(
            "shelf.E050",
            f'"{text}" is no presentation we know. Write one of {", ".join(PRESENTATIONS)}.',
        )
    return word


def read_doses(text: str) -> int:
    """Doses left: a whole number, nothing below zero. "12.0" from a spreadsheet is 12."""
    found = _WHOLE.fullmatch(text)
    if found is None:
        code = "shelf.E032" if _MONEY.fullmatch(text) else "shelf.E030"
        raise BadCell(code, f'"{text}" is not a whole number of doses. Count the doses left.')
    doses = int(found[1])
    if doses < 0:
        raise BadCell(
            "shelf.E031",
            f"{doses} doses cannot lie on a shelf. Count again; a lot used up has 0.",
        )
    return doses


def read_expires(text: str) -> date:
    """A day, or a month, which is usable through its last day."""
    if not text:
        raise BadCell(
            "shelf.E041",
            "The expiry date is missing. Copy it: YYYY-MM-DD, or YYYY-MM if no day is printed.",
        )
    try:
        return read_expiry(text)
    except BadValue as bad:
        year_only = f'"{text}" does not say the month. Write YYYY-MM-DD or YYYY-MM.'
        text = year_only if bad.code == "record.E022" else bad.text
        raise BadCell("shelf.E040", text) from None


def read_funding(text: str) -> str:
    """public, private, or empty for any."""
    word = text.lower()
    if word not in FUNDINGS:
        raise BadCell(
            "shelf.E060",
            f'"{text}" is no funding source. Write public or private, or leave empty for any.',
        )
    return word


def read_clock(text: str, code: str, zone: tzinfo | None) -> tuple[datetime, datetime]:
    """The time as written and as an instant of the clinic's clock."""
    try:
        written = datetime.fromisoformat(text.replace(" ", "T", 1))
    except ValueError:
        raise BadCell(
            code,
            f'"{text}" is not a time. Write YYYY-MM-DDTHH:MM, with an offset if it is not the '
            "clinic's own clock: 2026-11-24T09:10, 2026-11-24T09:10+01:00.",
        ) from None
    if "T" not in text.replace(" ", "T", 1):
        raise BadCell(code, f'"{text}" has no hour. Write YYYY-MM-DDTHH:MM.')
    if not 1900 <= written.year <= 2150:
        raise BadCell(code, f'"{text}": the year must lie between 1900 and 2150.')
    return written, to_instant(written, zone)


def read_cost(text: str) -> float:
    """Cost of a dose; a comma may stand for the point."""
    if _MONEY.fullmatch(text) is None:
        raise BadCell("shelf.E080", f'"{text}" is no cost. Write the number only: 21.50.')
    cost = float(text.replace(",", "."))
    if cost < 0:
        raise BadCell(
            "shelf.E080", f"A cost of {text} cannot be. Write what one dose costs, or leave empty."
        )
    return cost


def read_vial_doses(text: str) -> int:
    """Doses in one vial, one at least."""
    found = _WHOLE.fullmatch(text)
    if found is None or int(found[1]) < 1:
        raise BadCell("shelf.E033", f'"{text}" is no number of doses a vial. Write a whole number.')
    return int(found[1])
