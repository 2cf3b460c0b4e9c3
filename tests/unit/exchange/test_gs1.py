"""GS1 scans: the values that GS1, CDC and HL7 published, and every way a scan can go wrong."""

from __future__ import annotations

import csv
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.shared_files import shared

from traywise.errors import InputError
from traywise.exchange.gs1 import read_scan, write_bracketed, write_element_string
from traywise.exchange.gs1.check_digit import check_digit, has_valid_check_digit
from traywise.exchange.gs1.dates import read_gs1_date
from traywise.exchange.gs1.ndc import ndc_11, ndc_in_gtin

TODAY = date(2026, 11, 24)
GTIN = "00349281589058"  # CDC with GS1 Healthcare US, 2D barcode slides


def published(kind):
    with shared("cases/exchange/gs1-published-examples.csv").open(encoding="utf-8") as handle:
        rows = [row for row in csv.DictReader(handle) if row["kind"] == kind]
    return [(row["input"], row["expected"]) for row in rows]


def test_published_check_digits():
    examples = published("check_digit_gtin13")
    assert [str(check_digit(digits)) for digits, _ in examples] == [e for _, e in examples]


def test_published_gtin_with_ndc():
    for gtin, expected in published("gtin14_with_ndc"):
        assert has_valid_check_digit(gtin)
        assert ndc_in_gtin(gtin) in expected


def test_published_expiry():
    for digits, expected in published("ai17_expiry"):
        assert read_gs1_date(digits, TODAY).isoformat() == expected


def test_published_element_string():
    for raw, printed in published("element_string"):
        for scan in (read_scan(raw, today=TODAY), read_scan(printed, today=TODAY)):
            assert (scan.gtin, scan.lot, scan.expires) == (GTIN, "U4275AA", date(2013, 10, 28))
            assert scan.ok


def test_published_document_strings():
    for raw, expected in published("vis_string"):
        scan = read_scan(raw, today=TODAY)
        assert scan.ok
        assert scan.value("253")[:13] in expected


def test_published_ndc_in_eleven_digits():
    for hyphenated, expected in published("ndc_10_to_11"):
        assert ndc_11(hyphenated) == expected


@pytest.mark.parametrize(
    ("hyphenated", "digits"),
    [("1234-5678-90", "01234567890"), ("12345-678-90", "12345067890"),
     ("12345-6789-0", "12345678900"), ("12345-6789-01", "12345678901"),
     ("123-45-6", None), ("1234567890", None), ("a-b-c", None)],
)  # fmt: skip
def test_ndc_layouts(hyphenated, digits):
    # 21 CFR 207.33
    assert ndc_11(hyphenated) == digits


@pytest.mark.parametrize(
    "raw",
    [
        f"01{GTIN}1728022910A1\x1d21S9",
        f"]d201{GTIN}1728022910A1\x1d21S9",
        f"\x1d01{GTIN}1728022921S9\x1d10A1",
        f"10A1\x1d21S9\x1d17280229\x1d01{GTIN}",
        f"01{GTIN}1728022910A1<GS>21S9\r\n",
        f"01{GTIN}1728022910A1~21S9",
        f"01{GTIN}1728022910A1^]21S9",
        f"(01) {GTIN} (17)280229(10)A1(21)S9",
    ],
)
def test_order_separator_and_symbol_do_not_matter(raw):
    scan = read_scan(raw, today=TODAY)
    assert (scan.gtin, scan.lot, scan.serial, scan.expires) == (GTIN, "A1", "S9", date(2028, 2, 29))
    assert (scan.ndc, scan.ok) == ("4928158905", True)


@pytest.mark.parametrize(
    ("digits", "wanted"),
    [
        ("280200", "2028-02-29"), ("270200", "2027-02-28"), ("271231", "2027-12-31"),
        ("280230", None), ("271300", None), ("270000", None), ("27010", None),
        # century, GS1 General Specifications 7.12, from memory
        ("760101", "2076-01-01"), ("770101", "1977-01-01"),
    ],
)  # fmt: skip
def test_dates_of_six_digits(digits, wanted):
    found = read_gs1_date(digits, TODAY)
    assert (found.isoformat() if found else None) == wanted


def test_the_century_turns_forward_near_its_end():
    assert read_gs1_date("010101", date(2098, 1, 1)) == date(2101, 1, 1)


@pytest.mark.parametrize("place", range(14))
def test_a_wrong_digit_of_a_gtin_is_found(place):
    wrong = GTIN[:place] + str((int(GTIN[place]) + 1) % 10) + GTIN[place + 1 :]
    assert [fault.code for fault in read_scan(f"01{wrong}", today=TODAY).faults] == [
        "exchange.E204"
    ]


def test_a_lost_separator_is_asked_about_and_never_guessed():
    scan = read_scan(f"01{GTIN}10U4275AA17281028", today=TODAY)
    assert (scan.lot, scan.expires, scan.ok) == ("U4275AA17281028", None, False)
    assert [fault.code for fault in scan.faults] == ["exchange.W207"]
    assert read_scan(f"01{GTIN}1728102810U4275AA", today=TODAY).ok


gtins = st.text("0123456789", min_size=13, max_size=13).map(
    lambda digits: digits + str(check_digit(digits))
)
lots = st.text("ABCDEFGHXYZ0123456789-/.", min_size=1, max_size=12)


@settings(max_examples=100, deadline=None)
@given(gtins, lots, st.none() | lots, st.dates(date(2000, 1, 1), date(2070, 12, 31)))
def test_what_is_written_is_read_again(gtin, lot, serial, expires):
    parts = {"gtin": gtin, "lot": lot, "serial": serial, "expires": expires, "today": TODAY}
    for text in (write_element_string(**parts), write_bracketed(**parts)):
        scan = read_scan(text, today=TODAY)
        assert (scan.gtin, scan.lot, scan.serial, scan.expires) == (gtin, lot, serial, expires)
        assert not [fault for fault in scan.faults if fault.is_error]


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=60) | st.text("0123456789()\x1dA", max_size=60))
def test_no_text_makes_it_raise(text):
    read_scan(text, today=TODAY)


@settings(max_examples=60, deadline=None)
@given(gtins, lots, st.dates(date(2000, 1, 1), date(2070, 12, 31)))
def test_another_reader_agrees(gtin, lot, expires):
    biip = pytest.importorskip("biip", reason="biip, the outside reader, is not installed")
    text = write_element_string(gtin=gtin, lot=lot, expires=expires, serial="S1", today=TODAY)
    message = biip.parse(text).gs1_message
    found = {one.ai.ai: (one.date or one.value) for one in message.element_strings}
    assert found == {"01": gtin, "10": lot, "17": expires, "21": "S1"}


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"gtin": "00349281589059"}, "exchange.E204"), ({"gtin": "349281589058"}, "exchange.E203"),
        ({"lot": ""}, "exchange.E203"), ({"lot": "A" * 21}, "exchange.E203"),
        ({"lot": "A B"}, "exchange.E203"), ({"expires": date(2099, 1, 1)}, "exchange.E205"),
    ],
)  # fmt: skip
def test_a_label_that_would_not_scan_is_refused(change, code):
    parts = {"gtin": GTIN, "lot": "A1", "expires": date(2028, 2, 29), "today": TODAY} | change
    with pytest.raises(InputError) as refused:
        write_element_string(**parts)
    assert [fault.code for fault in refused.value.faults] == [code]
