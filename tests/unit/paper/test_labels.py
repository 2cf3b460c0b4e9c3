"""What stands on a label, and that its code reads back from the printed picture."""

from __future__ import annotations

from datetime import date

import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.paper.invented import NEWBORN, NEWBORN_TRAY, ODILE, ODILE_ANSWER, ODILE_TRAY, ON
from tests.unit.paper.raster import drawn, last_page, needs_poppler, read_codes

from traywise.paper.label_code import LabelCode, data_matrix_rows, data_matrix_svg, read_plain_code
from traywise.paper.labels import labels_for
from traywise.paper.sheet import tray_sheets_pdf
from traywise.paper.sheet_data import TraySheet

GTIN = "09521234543213"  # GS1's own range for examples


def code(**changes: object) -> LabelCode:
    fields: dict[str, object] = {
        "child": "inv-0041",
        "place": 2,
        "cvx": "110",
        "lot": "QS4174",
        "expires": date(2027, 6, 30),
    }
    fields.update(changes)
    return LabelCode(**fields)  # type: ignore[arg-type]


@needs_poppler
def test_the_printed_label_page_reads_back() -> None:
    sheet = TraySheet(
        child=ODILE, answer=ODILE_ANSWER, tray=ODILE_TRAY, on=ON, gtins={"QS4174": GTIN}
    )
    page = last_page(tray_sheets_pdf([sheet]), 203)  # a label printer's resolution
    found = {barcode.text for barcode in read_codes(page)}
    expected = {label.code.text() for label in labels_for(ODILE, ODILE_TRAY.tray, sheet.gtins)}
    assert expected == found
    assert any(text.startswith(f"(01){GTIN}(17)270630(10)QS4174") for text in found)


def test_with_a_gtin_the_code_is_gs1() -> None:
    (barcode,) = read_codes(drawn(code(gtin=GTIN)))
    assert barcode.content_type == zxingcpp.ContentType.GS1
    assert barcode.symbology_identifier == "]d2"
    assert barcode.bytes == f"01{GTIN}1727063010QS4174\x1d91inv-0041/2".encode()


def test_the_gs1_code_is_understood_by_another_reader() -> None:
    biip = pytest.importorskip("biip", reason="the exchange extra is not installed")
    (barcode,) = read_codes(drawn(code(gtin=GTIN)))
    message = biip.parse(barcode.bytes.decode()).gs1_message
    values = {item.ai.ai: item.value for item in message.element_strings}
    assert values["01"] == GTIN
    assert values["10"] == "QS4174"
    assert values["91"] == "inv-0041/2"


@pytest.mark.parametrize(
    "changes",
    [
        {"gtin": None},
        {"gtin": "09521234543214"},  # wrong check digit
        {"gtin": GTIN, "lot": None},
        {"gtin": GTIN, "lot": "A(10)B"},
        {"gtin": GTIN, "lot": "Ä7"},
        {"gtin": GTIN, "lot": "X" * 21},
        {"gtin": GTIN, "expires": None},
    ],
)
def test_what_gs1_cannot_say_is_said_in_plain_text(changes: dict[str, object]) -> None:
    written = code(**changes)
    assert not written.is_gs1
    (barcode,) = read_codes(drawn(written))
    assert barcode.content_type != zxingcpp.ContentType.GS1
    assert written == read_plain_code(barcode.text)


@settings(max_examples=40, deadline=None)
@given(
    st.text(min_size=1, max_size=30).filter(lambda t: t.isprintable()),
    st.text(max_size=25).filter(lambda t: t.isprintable()),
)
def test_any_id_and_lot_come_back_from_plain_text(child: str, lot: str) -> None:
    written = code(child=child, lot=lot or None)
    assert written == read_plain_code(written.text())


def test_the_drawing_has_the_modules_of_the_code() -> None:
    svg = data_matrix_svg(code(), size_mm=14)
    assert 'viewBox="0 0 34 34"' in svg, "32 modules and a quiet zone of one on each side"
    assert 'width="14mm"' in svg


@pytest.mark.parametrize(
    "child", ["7", "inv-0041", "urn:uuid:9f0b5c0e-7d1f-4b7a-9a55-0123456789ab"]
)
def test_the_code_is_square_whatever_it_says(child: str) -> None:
    rows = data_matrix_rows(code(child=child, lot=None, expires=None))
    assert len(rows) == len(rows[0])


def test_foreign_codes_are_not_ours() -> None:
    assert read_plain_code("01095212345432131727063010QS4174") is None
    assert read_plain_code("traywise-dose-1?child=x") is None


def test_a_label_says_all_that_a_drawn_up_syringe_must_carry() -> None:
    # Health department guidance on labels, restated; see docs/labels.md.
    label = labels_for(ODILE, ODILE_TRAY.tray)[2]
    assert label.vaccine == "Hib (PRP-T)"
    assert (label.dose, label.lot, label.expires) == ("0.5 mL", "QS4211", "2027-06-30")
    assert (label.site, label.route) == ("right thigh, upper", "IM")
    assert label.needle == "23 G × 25 mm (1 in), deep blue hub"
    assert (label.child_name, label.child_id) == ("Odile Fenwright", "inv-0041")
    assert label.use_by == "within 24 h of mixing"


def test_oral_doses_warn_and_unknowns_stay_empty() -> None:
    oral = labels_for(ODILE, ODILE_TRAY.tray)[0]
    assert oral.not_for_injection
    globulin = labels_for(NEWBORN, NEWBORN_TRAY.tray)[1]
    assert not globulin.not_for_injection
    assert (globulin.lot, globulin.expires, globulin.use_by) == ("", "", "see leaflet")
