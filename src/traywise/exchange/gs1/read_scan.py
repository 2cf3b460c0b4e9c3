"""What a reader sent from a GS1 DataMatrix, GS1-128 or typed bracket form: checked, in parts.

Strict, because this is the last check before a dose is given: a wrong check digit, an
impossible date, an unknown identifier or a swallowed separator is a fault, never a guess.
"""

from __future__ import annotations

import re
from datetime import date

import msgspec

from traywise.errors import Fault
from traywise.exchange.gs1.check_digit import has_valid_check_digit
from traywise.exchange.gs1.dates import read_gs1_date
from traywise.exchange.gs1.ndc import ndc_in_gtin
from traywise.rulebook.gs1_identifiers import Identifier, gs1_identifiers

GS = "\x1d"
# What keyboards make of the separator; none but <GS> could stand in a lot (character set 82).
SUBSTITUTES = ("<GS>", "{GS}", "^]", "~", "\u241d")
_GS1_SYMBOLS = ("]d2", "]C1", "]Q3", "]e0", "]J1")
_SET_82 = re.compile(r"[!\"%&'()*+,\-./0-9:;<=>?A-Z_a-z]+")
_PRINTED = re.compile(r"\((\d{2,4})\)")
_CHECKED = {"01": 14, "02": 14, "00": 18, "253": 13}


class Scan(msgspec.Struct, frozen=True, kw_only=True):
    """A scan in parts; None for what it does not hold. Use it only when ``ok``.

    elements  (identifier, value) in the order of the scan, values as sent
    ndc       ten digits without hyphens, when the GTIN holds an NDC
    faults    E: not to be used; W: to be asked about
    """

    gtin: str | None = None
    lot: str | None = None
    expires: date | None = None
    serial: str | None = None
    ndc: str | None = None
    elements: tuple[tuple[str, str], ...] = ()
    faults: tuple[Fault, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether nothing is wrong and nothing is to be asked."""
        return not self.faults

    def value(self, identifier: str) -> str | None:
        """The value of an identifier."""
        return dict(self.elements).get(identifier)


def read_scan(
    text: str, *, today: date | None = None, substitutes: tuple[str, ...] = SUBSTITUTES
) -> Scan:
    """The parts of a scan; never raises.

    today        decides the century of two-digit years; default the clock's
    substitutes  what the reader may send instead of the separator (ASCII 29)

    >>> scan = read_scan("01003492815890581713102810U4275AA", today=date(2013, 1, 1))
    >>> scan.gtin, scan.lot, str(scan.expires), scan.ndc
    ('00349281589058', 'U4275AA', '2013-10-28', '4928158905')
    """
    today = today or date.today()
    plain = text.strip(" \t\r\n")
    if plain.startswith("]"):
        if not plain.startswith(_GS1_SYMBOLS):
            said = f'The symbol "{plain[:3]}" is not a GS1 symbol. Scan the GS1 DataMatrix.'
            return Scan(faults=(Fault("exchange.E208", "scan", said),))
        plain = plain[3:]
    for substitute in substitutes:
        plain = plain.replace(substitute, GS)
    plain = plain.strip(GS)
    if not plain:
        said = "The scan is empty. Scan again."
        return Scan(faults=(Fault("exchange.E201", "scan", said),))
    printed = plain.startswith("(")
    elements, faults = _split_printed(plain) if printed else _split(plain)
    return _build(elements, faults, today, may_have_swallowed=not printed)


def _find_identifier(text: str, position: int) -> Identifier | None:
    for length in (2, 3, 4):
        found = gs1_identifiers().get(text[position : position + length])
        if found is not None:
            return found
    return None


def _unknown(text: str, place: int) -> Fault:
    said = (
        f'"{text[:4]}" begins no identifier that medicines carry. Scan again; if it recurs, '
        "type lot and expiry from the pack."
    )
    return Fault("exchange.E202", f"scan, character {place + 1}", said)


def _split(text: str) -> tuple[list[tuple[str, str]], list[Fault]]:
    elements: list[tuple[str, str]] = []
    position = 0
    while position < len(text):
        if text[position] == GS:  # tolerated after a value of predefined length
            position += 1
            continue
        identifier = _find_identifier(text, position)
        if identifier is None:
            return elements, [_unknown(text[position:], position)]
        position += len(identifier.key)
        end = text.find(GS, position)
        end = len(text) if end < 0 else end
        if identifier.fixed:
            end = min(end, position + identifier.length)
        elements.append((identifier.key, text[position:end]))
        position = end
    return elements, []


def _split_printed(text: str) -> tuple[list[tuple[str, str]], list[Fault]]:
    """The bracket form as printed below a symbol and typed by hand."""
    parts = _PRINTED.split(text)
    elements: list[tuple[str, str]] = []
    for key, value in zip(parts[1::2], parts[2::2], strict=True):
        if key not in gs1_identifiers():
            return elements, [_unknown(key, text.find(f"({key})") + 1)]
        elements.append((key, value.strip()))
    return elements, [] if elements else [_unknown(text, 0)]


def _build(
    elements: list[tuple[str, str]], faults: list[Fault], today: date, *, may_have_swallowed: bool
) -> Scan:
    values: dict[str, str] = {}
    for key, value in elements:
        faults += check_value(gs1_identifiers()[key], value, today)
        if values.setdefault(key, value) != value:
            said = f'({key}) stands twice, "{values[key]}" and "{value}". Scan one pack at a time.'
            faults.append(Fault("exchange.E206", f"scan, ({key})", said))
    if may_have_swallowed:
        faults += _check_swallowed(values, today)
    gtin = values.get("01")
    return Scan(
        gtin=gtin,
        lot=values.get("10"),
        expires=read_gs1_date(values["17"], today) if "17" in values else None,
        serial=values.get("21"),
        ndc=ndc_in_gtin(gtin) if gtin else None,
        elements=tuple(elements),
        faults=tuple(faults),
    )


def check_value(identifier: Identifier, value: str, today: date) -> list[Fault]:
    """Faults of one value: length, characters, date, check digit."""
    at = f"scan, ({identifier.key})"
    right_length = (
        len(value) == identifier.length if identifier.exact else 0 < len(value) <= identifier.length
    )
    digits = value.isascii() and value.isdecimal()
    if not right_length or (identifier.kind != "text" and not digits):
        kind = "digits" if identifier.kind != "text" else "characters"
        size = f"{identifier.length}" if identifier.exact else f"1 to {identifier.length}"
        said = f'{identifier.name} "{value}" must have {size} {kind}. Scan again.'
        return [Fault("exchange.E203", at, said)]
    if identifier.kind == "text" and not _SET_82.fullmatch(value):
        said = f'{identifier.name} "{value}" holds a character that GS1 does not allow. Scan again.'
        return [Fault("exchange.E203", at, said)]
    if identifier.kind == "date" and read_gs1_date(value, today) is None:
        said = f'{identifier.name} "{value}" is not a date that exists (YYMMDD). Read the pack.'
        return [Fault("exchange.E205", at, said)]
    checked = _CHECKED.get(identifier.key)
    if checked is not None and not has_valid_check_digit(value[:checked]):
        said = f'The check digit of {identifier.name} "{value[:checked]}" is wrong. Scan again.'
        return [Fault("exchange.E204", at, said)]
    return []


def _check_swallowed(values: dict[str, str], today: date) -> list[Fault]:
    """A lot or serial that ends like another element: the separator may have been lost."""
    faults = []
    for key in ("10", "21"):
        value = values.get(key, "")
        tail = value[-8:]
        lost_expiry = (
            "17" not in values
            and len(value) > 8
            and tail.startswith("17")
            and read_gs1_date(tail[2:], today) is not None
        )
        other = "21" if key == "10" else "10"
        lost_other = other not in values and re.search(rf".{other}[A-Z0-9]{{4,}}$", value)
        if lost_expiry or (lost_other and key == "10" and len(value) > 12):
            name = gs1_identifiers()[key].name
            said = (
                f'The {name} "{value}" may hold more than the {name}: the reader may have lost a '
                "separator. Compare it with the pack, and set the reader to send ASCII 29."
            )
            faults.append(Fault("exchange.W207", f"scan, ({key})", said))
    return faults
