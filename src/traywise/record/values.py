"""Single values of a record, checked: a typed value comes out, or BadValue says what to write.

Dates are strict: a day that is not stated in full is never guessed.
"""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from traywise.calendar import FIRST_ENTRY_YEAR, LAST_ENTRY_YEAR
from traywise.record.child import CvxCode
from traywise.record.nearest import nearest
from traywise.rulebook.antibody_products import antibody_products
from traywise.rulebook.codes import cvx_codes, route_codes, route_key, site_codes
from traywise.rulebook.conditions import condition_key

SEXES = ("F", "M", "X")

_ISO = re.compile(r"(\d{4})-(\d{2})-(\d{2})")
_ISO_WITH_TIME = re.compile(r"(\d{4})-(\d{2})-(\d{2})[T ][\d:.]+(Z|[+-]\d{2}:?\d{2})?")
_PARTIAL = re.compile(r"(\d{4})(-(\d{2}))?")
_THREE_NUMBERS = re.compile(r"(\d{1,4})[-/. ](\d{1,2})[-/. ](\d{1,4})")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})")


class BadValue(Exception):  # noqa: N818 - a refusal with its remedy, caught by the readers only
    """A value that cannot be taken: fault code and text; ``path`` leads from the value inwards."""

    def __init__(self, code: str, text: str, path: tuple[str | int, ...] = ()):
        super().__init__(text)
        self.code, self.text, self.path = code, text, path


def show(value: object, limit: int = 40) -> str:
    """A value as it stands in the file, cut when long.

    >>> show("03/05/2024")
    '"03/05/2024"'
    """
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return printable(text if len(text) <= limit else text[: limit - 3] + "...")


def printable(text: str) -> str:
    """The text with control signs written out, so that showing it cannot steer a terminal.

    >>> printable("a\\x1b[31m")
    'a\\\\x1b[31m'
    """
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in text)


def read_text(value: Any) -> str:
    """Text with blanks around it removed; numbers are not text."""
    if not isinstance(value, str):
        raise BadValue("record.E020", f"{show(value)} is not text. Put it in quotes.")
    text = value.strip()
    if not text:
        raise BadValue("record.E020", "The text is empty. Write something, or null for unknown.")
    return text


def read_id(value: Any) -> str:
    """An id as text; a whole number is taken as its digits.

    >>> read_id(17)
    '17'
    """
    if isinstance(value, int) and not isinstance(value, bool):
        return str(value)
    if not isinstance(value, str) or not value.strip():
        raise BadValue("record.E010", f"{show(value)} is no id. Write a text of this child alone.")
    return value.strip()


def read_number(value: Any) -> float:
    """A number above zero; text and yes/no are not numbers."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        remedy = "Write the number without quotes and without unit: 6.4."
        raise BadValue("record.E020", f"{show(value)} is not a number. {remedy}")
    if not 0 < value < 1e9:
        raise BadValue(
            "record.E034", f"{show(value)} must be above 0. Write the measured value, or null."
        )
    return float(value)


def read_whole(value: Any) -> int:
    """A whole number above zero.

    >>> read_whole(39)
    39
    """
    number = read_number(value)
    if number != int(number):
        raise BadValue("record.E034", f"{show(value)} must be a whole number. Round it down.")
    return int(number)


def read_flag(value: Any) -> bool:
    """True or false, and nothing that merely looks like it."""
    if not isinstance(value, bool):
        raise BadValue("record.E020", f"{show(value)} must be true, false or null, without quotes.")
    return value


def make_date(year: int, month: int, day: int, shown: str) -> date:
    """The date, or BadValue when there is no such day or the year is out of reach."""
    if not FIRST_ENTRY_YEAR <= year <= LAST_ENTRY_YEAR:
        limits = f"{FIRST_ENTRY_YEAR} and {LAST_ENTRY_YEAR}"
        raise BadValue("record.E024", f"{shown}: the year must lie between {limits}.")
    try:
        return date(year, month, day)
    except ValueError:
        raise BadValue(
            "record.E023", f"{shown} is not a date that exists. Write YYYY-MM-DD."
        ) from None


def read_date(value: Any) -> date:
    """A day as YYYY-MM-DD; any other form is refused with a proposal where there is only one.

    >>> read_date("2026-11-24").isoformat()
    '2026-11-24'
    """
    if not isinstance(value, str):
        raise BadValue("record.E020", f'{show(value)} is not a date. Write "YYYY-MM-DD" in quotes.')
    found = _ISO.fullmatch(value)
    if found and value.isascii():
        return make_date(int(found[1]), int(found[2]), int(found[3]), show(value))
    raise _explain_date(value.strip())


def _explain_date(text: str) -> BadValue:
    """Why a text is no date, and what it might be."""
    partial = _PARTIAL.fullmatch(text)
    if partial:
        missing = "day" if partial[3] else "month and day"
        return BadValue(
            "record.E022",
            f'"{text}" does not say the {missing}, and a day is never guessed. '
            "Look it up in the written record; until then leave the entry out and note it.",
        )
    proposals = propose_dates(text)
    if not proposals:
        return BadValue("record.E021", f'{show(text)} is not a date. Write "YYYY-MM-DD".')
    said = " or ".join(f'"{day.isoformat()}"' for day in proposals)
    which = f"Write {said}" + (", whichever is meant." if len(proposals) > 1 else ".")
    return BadValue("record.E021", f"{show(text)} is not written as YYYY-MM-DD. {which}")


def propose_dates(text: str) -> list[date]:
    """Days that a text in another form may mean; empty for two-digit years.

    >>> [str(day) for day in propose_dates("03/05/2024")]
    ['2024-03-05', '2024-05-03']
    """
    found = _ISO_WITH_TIME.fullmatch(text) or _ISO.fullmatch(text) or _COMPACT.fullmatch(text)
    orders: list[tuple[str, str, str]] = []
    if found:
        orders = [(found[1], found[2], found[3])]
    else:
        found = _THREE_NUMBERS.fullmatch(text)
        if found and len(found[1]) == 4:
            orders = [(found[1], found[2], found[3])]
        elif found and len(found[3]) == 4:
            orders = [(found[3], found[1], found[2]), (found[3], found[2], found[1])]
    days: list[date] = []
    for year, month, day in orders:
        try:
            proposal = make_date(int(year), int(month), int(day), text)
        except BadValue:
            continue
        if proposal not in days:
            days.append(proposal)
    return days


def read_expiry(value: Any) -> date:
    """A day, or YYYY-MM meaning the last day of that month, as lots are printed.

    >>> str(read_expiry("2028-02"))
    '2028-02-29'
    """
    if isinstance(value, str) and len(value) == 7 and _PARTIAL.fullmatch(value):
        first = make_date(int(value[:4]), int(value[5:]), 1, show(value))
        after = date(first.year + first.month // 12, first.month % 12 + 1, 1)
        return date.fromordinal(after.toordinal() - 1)
    return read_date(value)


def read_sex(value: Any) -> str:
    """F, M or X, in either case."""
    if isinstance(value, str) and value.strip().upper() in SEXES:
        return value.strip().upper()
    raise BadValue("record.E025", f'{show(value)} is not a known sex. Write "F", "M", "X" or null.')


def read_cvx(value: Any) -> CvxCode:
    """A CVX code from text or number; the leading zero is put back, the code must exist.

    >>> read_cvx(3), read_cvx("110")
    ('03', '110')
    """
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)
    if not isinstance(value, str) or not re.fullmatch(r"[0-9]{1,4}", value.strip()):
        remedy = 'Write the number as text: "03", "110"; "999" when the vaccine is not known.'
        raise BadValue("record.E026", f"{show(value)} is not a CVX code. {remedy}")
    code = value.strip().lstrip("0").zfill(2)
    if code not in cvx_codes():
        raise BadValue(
            "record.E027",
            f'"{value.strip()}" is not in our list of CVX codes. Correct it; for a newer code '
            'write "999" (vaccine not known) and put the code in the note.',
        )
    return CvxCode(code)


def read_route(value: Any) -> str:
    """Our key of a route: IM, SC, PO, NAS, ID, PC, IV."""
    key = route_key(value) if isinstance(value, str) else None
    if key is None:
        keys = ", ".join(route_codes())
        raise BadValue("record.E028", f"{show(value)} is not a route we know. Write one of {keys}.")
    return key


def read_site(value: Any) -> str:
    """A site of HL7 table 0163."""
    if isinstance(value, str) and value.strip().upper() in site_codes():
        return value.strip().upper()
    keys = ", ".join(site_codes())
    raise BadValue("record.E029", f"{show(value)} is not a site code. Write one of {keys}.")


def read_time_of_day(value: Any) -> str:
    """HH:MM, 24 hours.

    >>> read_time_of_day("09:20")
    '09:20'
    """
    if isinstance(value, str) and re.fullmatch(r"([01][0-9]|2[0-3]):[0-5][0-9]", value):
        return value
    raise BadValue("record.E031", f'{show(value)} is not a time of day. Write "09:20".')


def read_condition(value: Any) -> str:
    """A condition key; another known word for it is turned into the key.

    A word that the rulebook does not know is kept as it stands: plausible.py says so.

    >>> read_condition("Immunosuppressed")
    'immunocompromised'
    """
    text = read_text(value)
    return condition_key(text) or text


def read_product(value: Any) -> str:
    """A kind of the antibody product table.

    >>> read_product("hbig")
    'hbig'
    """
    if isinstance(value, str) and value.strip() in antibody_products():
        return value.strip()
    near = nearest(str(value), antibody_products())
    hint = f'Did you mean "{near}"?' if near else "Look it up in the table of intervals."
    raise BadValue(
        "record.E032", f"{show(value)} is not a product whose waiting time is known. {hint}"
    )
