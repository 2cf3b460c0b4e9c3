"""Words and measures in the cells of tables: units that are written, words that people use.

A measure needs a unit, in its cell or in the head of its column; without one our own
unit is taken and the caller is told, so that it can be doubted.
"""

from __future__ import annotations

import re

from traywise.record.child import CvxCode
from traywise.record.nearest import nearest
from traywise.record.values import BadValue, read_cvx, read_time_of_day, show
from traywise.rulebook.codes import cvx_by_name, cvx_codes, plain_name
from traywise.rulebook.column_words import Unit, cell_words, units_by_word

_PART = re.compile(r"(\d+(?:[.,]\d+)?)\s*([a-z]*)\.?")
_GESTATION = re.compile(
    r"(\d{1,3})\s*(?:w|wk|wks|weeks?)?(?:(?:\s*\+\s*|\s+|(?<=[wks]))[0-6]\s*(?:d|days?|/7)?)?"
)

_CLOCK = re.compile(r"(\d{1,2})[:.](\d{2})(?::\d{2})?(?:\s*([ap])\.?m\.?)?")


def is_unknown(text: str) -> bool:
    """Whether a cell says "not known" in one of the usual ways, or nothing.

    >>> is_unknown("n/a"), is_unknown("0")
    (True, False)
    """
    return text.strip().casefold() in cell_words("unknown")


def read_sex_word(text: str) -> str:
    """F, M or X from a word; a near miss is asked about, not taken.

    >>> read_sex_word("Female")
    'F'
    """
    return _read_word(text, "sex", "record.E025", "a known sex")


def read_yes_no(text: str) -> bool:
    """True or false from yes, no and the like."""
    return _read_word(text, "yes-no", "record.E020", "yes or no") == "yes"


def _read_word(text: str, of: str, code: str, what: str) -> str:
    words = cell_words(of)
    word = text.strip().casefold()
    if word in words:
        return words[word]
    near = nearest(word, words)
    hint = f'If "{near}" is meant, write that.' if near else f"Write one of {', '.join(words)}."
    raise BadValue(code, f"{show(text)} is not {what}. {hint}")


def read_vaccine(text: str) -> CvxCode:
    """The CVX code of a cell that holds a code or a vaccine's name.

    >>> read_vaccine("3.0"), read_vaccine("CVX 110"), read_vaccine("Hep B")
    ('03', '110', '45')
    """
    plain = re.sub(r"^cvx\s*:?\s*", "", text.strip(), flags=re.IGNORECASE)
    plain = re.sub(r"^(\d+)\.0+$", r"\1", plain)
    if plain.isdecimal() and plain.isascii():
        return read_cvx(plain)
    code = cvx_by_name().get(plain_name(text))
    if code is None:
        near = nearest(plain_name(text), cvx_by_name(), cutoff=0.8)
        remedy = "Write the CVX code, or the ACIP abbreviation."
        if near:
            code = cvx_by_name()[near]
            remedy = f'If "{cvx_codes()[code].name}" is meant, write {code}, its CVX code.'
        raise BadValue("record.E109", f"{show(text)} is not a vaccine we know. {remedy}")
    return CvxCode(code)


def read_measure(text: str, kind: str, into: str, head_unit: str | None) -> tuple[float, bool]:
    """A measure in the unit ``into``, and whether its unit was written anywhere.

    kind       weight, length, volume
    head_unit  what the head of the column says

    >>> read_measure("14 lb", "weight", "kg", None)
    (6.35, True)
    >>> read_measure("6,4 kg", "weight", "kg", None)
    (6.4, True)
    >>> read_measure("6.4", "weight", "kg", None)
    (6.4, False)
    """
    units = units_by_word()
    total, written, converted, rest = 0.0, True, False, text.strip().casefold()
    if not rest:
        raise BadValue("record.E020", "The cell is empty.")
    while rest:
        part = _PART.match(rest)
        if part is None:
            raise _bad_measure(text, into)
        _refuse_thousands(part[1], text)
        if part[2]:
            unit: Unit | None = units.get(part[2])
        else:
            unit, written = units[head_unit or into], head_unit is not None
        if unit is None or unit.measures != kind:
            raise _bad_measure(text, into)
        converted |= unit.factor != units[into].factor
        total += float(part[1].replace(",", ".")) * unit.factor
        rest = rest[part.end() :].lstrip(" ,;")
    # What was converted is rounded as a scale shows it; what was not, stays as written.
    value = round(total / units[into].factor, 2 if converted else 6)
    if value <= 0:
        raise BadValue("record.E034", f"{show(text)} must be above 0. Leave it empty if not known.")
    return value, written


def _bad_measure(text: str, into: str) -> BadValue:
    return BadValue(
        "record.E106", f'{show(text)} is not a measure. Write number and unit: "6.4 {into}".'
    )


def _refuse_thousands(number: str, text: str) -> None:
    """3,200 is three thousand two hundred to one writer and 3.2 to another."""
    if re.fullmatch(r"\d+,\d{3}", number):
        raise BadValue(
            "record.E106",
            f"{show(text)}: the comma can be read in two ways. Use a point or none.",
        )


def read_gestation(text: str) -> int:
    """Completed weeks from "39", "39 weeks", "39+4", "38w6d".

    >>> read_gestation("39+4"), read_gestation("38 weeks")
    (39, 38)
    """
    found = _GESTATION.fullmatch(text.strip().casefold())
    if found is None:
        raise BadValue(
            "record.E020", f'{show(text)} is not a gestation. Write completed weeks: "39".'
        )
    return int(found[1])


def read_clock(text: str) -> str:
    """A time of day as HH:MM from "9:20", "9.20", "09:20:00", "2:05 pm".

    >>> read_clock("9:20"), read_clock("2:05 PM"), read_clock("12:30 am")
    ('09:20', '14:05', '00:30')
    """
    found = _CLOCK.fullmatch(text.strip().casefold())
    if found is None:
        return read_time_of_day(text)
    hour, half = int(found[1]), found[3]
    if half and 1 <= hour <= 12:
        hour = hour % 12 + (12 if half == "p" else 0)
    elif half:
        return read_time_of_day(text)
    return read_time_of_day(f"{hour:02}:{found[2]}")


def split_list(text: str) -> list[str]:
    """The items of a cell that holds several, between semicolons, commas or bars."""
    return [item.strip() for item in re.split(r"[;,|]", text) if item.strip()]
