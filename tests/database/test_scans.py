"""What a scanner sends or a hand types, and what is made of it."""

from __future__ import annotations

import pytest

from traywise.paper.label_code import LabelCode
from traywise.workbench.asking.scans import read_scan

GTIN = "00200000001018"  # prefix 02: for use inside one house


@pytest.mark.parametrize(
    ("text", "lot", "gtin"),
    [
        ("HB5512", "HB5512", None),
        (" hb5512\r\n", "HB5512", None),
        ("a-1/2.b_3", "A-1/2.B_3", None),
        (f"]d201{GTIN}1727053110QR2207", "QR2207", GTIN),
        (f"01{GTIN}10QR2207\x1d17270531", "QR2207", GTIN),
        (f"(01){GTIN}(17)270531(10)QR2207", "QR2207", GTIN),
    ],
)
def test_lot_and_gtin_are_read(text: str, lot: str, gtin: str | None) -> None:
    scan = read_scan(text)
    assert (scan.fault, scan.lot, scan.gtin) == ("", lot, gtin)


@pytest.mark.parametrize("gtin", [None, GTIN])
def test_a_label_of_ours_names_child_and_place(gtin: str | None) -> None:
    from datetime import date

    label = LabelCode(
        child="c 1/Ä", place=3, cvx="110", lot="HB5512", expires=date(2027, 6, 30), gtin=gtin
    )
    scan = read_scan(label.text())
    assert (scan.fault, scan.child, scan.place, scan.lot) == ("", "c 1/Ä", 3, "HB5512")


@pytest.mark.parametrize(
    "text",
    ["", " ", "]d2", f"]d201{GTIN}", "(10)", "]C0HELLO", f"01{GTIN[:-1]}9", "two words", "x" * 21],
)
def test_what_cannot_be_used_says_why(text: str) -> None:
    scan = read_scan(text)
    assert scan.fault
    assert scan.lot is None
