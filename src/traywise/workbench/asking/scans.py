"""What was scanned or typed at a vial, a box or a label: GS1, our label's code, or a lot."""

from __future__ import annotations

import re
from datetime import date
from urllib.parse import unquote

import msgspec

from traywise.exchange.gs1 import read_scan as read_gs1
from traywise.paper.label_code import read_plain_code

CHILD_AND_PLACE = "91"  # the identifier our labels use for child and place
_TYPED_LOT = re.compile(r"[A-Za-z0-9][A-Za-z0-9./_-]{1,19}")
_LOOKS_GS1 = re.compile(r"^(\]|\(|01\d{14})|\x1d")


class Scanned(msgspec.Struct, frozen=True, kw_only=True):
    """The parts of a scan. ``fault``: why it cannot be used; ``child``, ``place``: of a label."""

    lot: str | None = None
    gtin: str | None = None
    expires: date | None = None
    child: str | None = None
    place: int | None = None
    typed: bool = False
    fault: str = ""


def read_scan(text: str) -> Scanned:
    """Reads what came from a scanner or a hand; never raises."""
    text = text.strip(" \t\r\n")
    if not text:
        return Scanned(fault="Nothing was scanned. Scan the vial, or type its lot.")
    label = read_plain_code(text)
    if label is not None:
        return Scanned(
            lot=label.lot,
            gtin=label.gtin,
            expires=label.expires,
            child=label.child,
            place=label.place,
        )
    if _LOOKS_GS1.search(text):
        return _from_gs1(text)
    if _TYPED_LOT.fullmatch(text):
        return Scanned(lot=text.upper(), typed=True)
    return Scanned(fault=f'"{text[:40]}" is no code we know. Scan the vial, or type its lot.')


def _from_gs1(text: str) -> Scanned:
    scan = read_gs1(text)
    if scan.faults:
        return Scanned(fault=" ".join(fault.text for fault in scan.faults))
    child, place = _child_and_place(scan.value(CHILD_AND_PLACE))
    if scan.lot is None:
        return Scanned(fault="This code holds no lot. Scan the vial itself, or type its lot.")
    return Scanned(lot=scan.lot, gtin=scan.gtin, expires=scan.expires, child=child, place=place)


def _child_and_place(value: str | None) -> tuple[str | None, int | None]:
    if value is None or "/" not in value:
        return None, None
    child, _, place = value.rpartition("/")
    return unquote(child), int(place) if place.isdecimal() else None
