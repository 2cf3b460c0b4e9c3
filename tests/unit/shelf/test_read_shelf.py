"""Reading shelf files: every fault has a code and a place, and no line is lost."""

from __future__ import annotations

import time
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traywise.shelf.read_csv import read_shelf
from traywise.shelf.usable import why_not_usable

HEADER = "lot,cvx,mvx,presentation,doses,expires,funding,unit,opened_at,discard_at,cost"
GOOD = "A1,08,xyz,prefilled,10,2027-05,public,fridge 1,,,12.50"
CLOCK = ZoneInfo("CET")  # changes on 2026-03-29 at 02:00 and 2026-10-25 at 03:00


def read(*lines: str, header: str = HEADER, on: date | None = None):
    return read_shelf("\n".join((header, *lines)) + "\n", "shelf.csv", on=on, zone=CLOCK)


def codes(result) -> list[str]:
    return [fault.code for fault in result.faults]


def test_a_good_line_becomes_a_lot():
    (lot,) = read(GOOD).lots
    assert (lot.lot, lot.cvx, lot.mvx, lot.doses) == ("A1", "08", "XYZ", 10)
    assert lot.expires == date(2027, 5, 31)
    assert (lot.funding, lot.unit, lot.cost) == ("public", "fridge 1", 12.5)
    assert lot.product is not None
    assert lot.product.key == "HepB"


# One bad cell each: (line, code, kept as a lot).
BROKEN = [
    (",08,,prefilled,10,2027-05,,,,,", "shelf.E010", False),
    ("A1,HepB,,prefilled,10,2027-05,,,,,", "shelf.E020", False),
    ("A1,777,,prefilled,10,2027-05,,,,,", "shelf.E021", False),
    ("A1,45,,prefilled,10,2027-05,,,,,", "shelf.E022", False),  # unspecified formulation
    ("A1,08,,prefilled,many,2027-05,,,,,", "shelf.E030", False),
    ("A1,08,,prefilled,-1,2027-05,,,,,", "shelf.E031", False),
    ("A1,08,,prefilled,2.5,2027-05,,,,,", "shelf.E032", False),
    ("A1,08,,prefilled,10,31/02/2027,,,,,", "shelf.E040", True),
    ("A1,08,,prefilled,10,2027,,,,,", "shelf.E040", True),
    ("A1,08,,prefilled,10,,,,,,", "shelf.E041", True),
    ("A1,08,,bottle,10,2027-05,,,,,", "shelf.E050", False),
    ("A1,08,,prefilled,10,2027-05,state,,,,", "shelf.E060", False),
    ("A1,10,,multidose,5,2027-05,,,yesterday,,", "shelf.E070", True),
    ("A1,10,,multidose,5,2027-05,,,2026-11-24,,", "shelf.E070", True),
    ("A1,10,,multidose,5,2027-05,,,,noon,", "shelf.E071", True),
    (
        "A1,10,,multidose,5,2027-05,,,2026-11-24T09:00,2026-11-24T09:00,",
        "shelf.E072",
        True,
    ),
    ("A1,10,,multidose,5,2026-10,,,2026-11-01T09:00,,", "shelf.E043", True),
    ("A1,08,,prefilled,10,2027-05,,,,,free", "shelf.E080", True),
    ("A1,08,,prefilled,10,2027-05,,,,,-3", "shelf.E080", True),
]


@pytest.mark.parametrize(("line", "code", "kept"), BROKEN)
def test_each_mistake_has_its_code_and_the_next_line_is_read(line, code, kept):
    result = read(line, GOOD.replace("A1", "B2"))
    assert code in codes(result)
    assert [lot.lot for lot in result.lots][-1] == "B2"
    assert len(result.lots) == 1 + kept
    assert len(result.set_aside) == 1 - kept
    assert all("line 2" in fault.at for fault in result.faults)
    # A lot with an unreadable expiry or time may stand there but is never used.
    if kept and code != "shelf.E080":
        assert why_not_usable(result.lots[0], date(2026, 11, 24)) is not None


def test_the_same_lot_twice_in_one_unit_and_funding_is_set_aside():
    result = read(GOOD, GOOD)
    assert codes(result) == ["shelf.E011"]
    assert result.set_aside[0].cells["lot"] == "A1"
    elsewhere = read(GOOD, GOOD.replace("fridge 1", "fridge 2"), GOOD.replace("public", "private"))
    assert codes(elsewhere) == []
    assert len(elsewhere.lots) == 3


def test_an_opened_vial_of_a_lot_is_a_line_of_its_own():
    closed = "V1,10,,multidose,20,2027-05,public,fridge 1,,,"
    opened = "V1,10,,multidose,4,2027-05,public,fridge 1,2026-11-20T09:00,,"
    assert codes(read(closed, opened)) == []


def test_expired_on_arrival_is_held_and_expired_by_the_day_is_warned_about():
    header = HEADER + ",received"
    (lot,) = (result := read(GOOD + ",2027-06-01", header=header)).lots
    assert codes(result) == ["shelf.E042"]
    assert lot.held
    assert codes(read(GOOD + ",2027-05-31", header=header)) == []
    assert codes(read(GOOD, on=date(2027, 5, 31))) == []
    assert codes(read(GOOD, on=date(2027, 6, 1))) == ["shelf.W001"]


@pytest.mark.parametrize(
    ("printed", "last_day"),
    [("2027-02", "2027-02-28"), ("2028-02", "2028-02-29"), ("2027-12", "2027-12-31")],
)
def test_a_month_is_usable_through_its_last_day(printed: str, last_day: str):
    (lot,) = read(GOOD.replace("2027-05", printed)).lots
    day = date.fromisoformat(last_day)
    assert why_not_usable(lot, day) is None
    assert why_not_usable(lot, day + timedelta(days=1)) is not None


@pytest.mark.parametrize("mark", [";", "\t", "|"])
def test_other_delimiters_and_decimal_commas(mark: str):
    header, line = HEADER.replace(",", mark), GOOD.replace(",", mark).replace("12.50", '"12,50"')
    (lot,) = read(line, header=header).lots
    assert lot.cost == 12.5


def test_marks_blank_lines_capitals_and_further_columns():
    text = f"\ufeff{HEADER.upper()},NDC,Product Name\r\n\r\n{GOOD},0-1-2,hep b\r\n ,,\r\n"
    for data in (text.encode(), text.encode("utf-16"), text):
        result = read_shelf(data, "shelf.csv")
        (lot,) = result.lots
        assert lot.extra == {"ndc": "0-1-2", "product_name": "hep b"}
        assert result.extra == ("ndc", "product_name")
        assert codes(result) == []


def test_what_a_spreadsheet_did_is_mended_or_said():
    (lot,) = read("A1,8,,prefilled,12.0,2027-05,,,,,").lots
    assert (lot.cvx, lot.doses) == ("08", 12)
    assert codes(read("1.2E+05,08,,prefilled,12,2027-05,,,,,")) == ["shelf.W004"]
    assert codes(read(GOOD + ",more")) == ["shelf.W005"]
    assert read(GOOD + ",more").lots[0].extra == {"column 12": "more"}


def test_files_that_cannot_be_read_say_so(tmp_path):
    assert codes(read_shelf("", "shelf.csv")) == ["shelf.E001"]
    assert codes(read_shelf(tmp_path / "none.csv")) == ["shelf.E001"]
    lacking = read_shelf("lot,cvx\nA1,08\n", "shelf.csv")
    assert codes(lacking) == ["shelf.E002"]
    assert lacking.set_aside[0].cells == {"lot": "A1", "cvx": "08"}
    assert codes(read_shelf(HEADER + ",lot\n", "shelf.csv")) == ["shelf.E003"]
    unclosed = read_shelf(f'{HEADER}\nA1,"08,,prefilled\n{GOOD}\n', "shelf.csv")
    assert codes(unclosed) == ["shelf.E004"]
    assert GOOD.split(",")[0] in unclosed.set_aside[0].cells["cvx"]


def test_a_product_of_a_shared_code_is_named_in_a_column():
    header = HEADER + ",vaccine"
    line = "M1,03,,vial+diluent,10,2027-05,,,,,,MMR-SC-IM"
    (lot,) = read(line, header=header).lots
    assert lot.product is not None
    assert lot.product.routes == ("SC", "IM")
    assert codes(read(line.replace("MMR-SC-IM", "VAR"), header=header)) == ["shelf.E023"]


def opened_lot(opened: str, discard: str = ""):
    result = read(f"V1,10,,multidose,5,2027-05,,,{opened},{discard},")
    return result.lots[0], codes(result)


def test_times_with_an_offset_are_taken_into_the_clinics_clock():
    for text in ("2026-11-24T09:10", "2026-11-24T08:10Z", "2026-11-24T03:10-05:00"):
        lot, faults = opened_lot(text)
        assert faults == []
        assert lot.opened_at.astimezone(UTC) == datetime(2026, 11, 24, 8, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    ("opened", "earlier_utc"),
    [
        ("2026-10-25T02:30", "2026-10-25T00:30"),  # stands twice: the first time
        ("2026-03-29T02:30", "2026-03-29T00:30"),  # stands nowhere: the earlier reading
    ],
)
def test_where_the_clock_changes_the_earlier_reading_is_taken_and_said(opened, earlier_utc):
    lot, faults = opened_lot(opened)
    assert faults == ["shelf.W002"]
    assert lot.opened_at.astimezone(UTC) == datetime.fromisoformat(earlier_utc + "+00:00")
    assert opened_lot(opened.replace("T02:30", "T02:30+01:00"))[1] == []


def test_a_discard_time_later_than_the_product_keeps_is_cut():
    line = "F1,141,,multidose,5,2027-05,,,2026-10-20T09:00,2026-12-01T09:00,"
    result = read(line)
    assert codes(result) == ["shelf.W003"]
    # 28 days after opening, through the night in which the clock went back an hour.
    assert why_not_usable(result.lots[0], date(2026, 11, 17), at("2026-11-17T07:59")) is None
    assert why_not_usable(result.lots[0], date(2026, 11, 17), at("2026-11-17T08:00")) is not None


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=CLOCK)


def test_five_thousand_lots_are_read_in_two_seconds():
    lines = [GOOD.replace("A1", f"A{number}") for number in range(5000)]
    start = time.perf_counter()
    assert len(read(*lines).lots) == 5000
    assert time.perf_counter() - start < 2


@settings(max_examples=150, deadline=None)
@given(st.lists(st.lists(st.text(max_size=12), min_size=1, max_size=12), max_size=6))
def test_no_text_breaks_the_reader_and_no_line_is_lost(lines):
    rows = [
        [cell.replace('"', "").replace("\r", "").replace("\n", "") for cell in line]
        for line in lines
    ]
    body = "\n".join(",".join(f'"{cell}"' for cell in row) for row in rows)
    result = read_shelf(f"{HEADER}\n{body}\n", "shelf.csv")
    written = [row for row in rows if any(cell.strip() for cell in row)]
    assert len(result.lots) + len(result.set_aside) == len(written)
