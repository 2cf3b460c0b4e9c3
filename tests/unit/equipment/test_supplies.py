"""Reading the supplies and choosing from what is at hand. Files and counts are invented."""

from __future__ import annotations

import pytest
from tests.unit.equipment.visits import child_of, dose, equip_many, equip_one

from traywise.equipment import SupplyOnHand, equip
from traywise.equipment.supplies import read_supplies, read_supplies_file

HEADER = "item,gauge,length_mm,volume_ml,count\n"


def needle(gauge, length_mm, count):
    return SupplyOnHand(item="needle", gauge=gauge, length_mm=length_mm, count=count)


def syringe(volume_ml, count):
    return SupplyOnHand(item="syringe", volume_ml=volume_ml, count=count)


def whole(gauge, length_mm, volume_ml, count):
    return SupplyOnHand(
        item="needle+syringe", gauge=gauge, length_mm=length_mm, volume_ml=volume_ml, count=count
    )


def test_a_good_file_is_read_line_by_line():
    found = read_supplies(
        HEADER + "needle,25,16,,100\nneedle,25G,25 mm,,40\nsyringe,,,1,50\n"
        "needle+syringe,23,25,1,10\nwipe,,,,200\nsharps-container,,,,2\n"
    )
    assert found.faults == ()
    assert found.lines[:4] == (
        needle(25, 16, 100),
        needle(25, 25, 40),
        syringe(1.0, 50),
        whole(23, 25, 1.0, 10),
    )
    assert [line.item for line in found.lines[4:]] == ["wipe", "sharps-container"]


def test_a_spreadsheet_with_semicolons_mark_and_decimal_commas_is_read():
    text = "\ufeffitem;gauge;length_mm;volume_ml;count\r\nsyringe;;;0,5;7\r\n\r\n"
    assert read_supplies(text).lines == (syringe(0.5, 7),)


# line -> code, words that must stand in the fault
BROKEN = [
    ("swab,,,,5", "supplies.E003", "needle+syringe"),
    ("needle,25,25,,many", "supplies.E004", "whole number"),
    ("needle,25,25,,2.5", "supplies.E004", "whole number"),
    ("needle,25,25,,nan", "supplies.E004", "whole number"),
    ("needle,25,25,,-3", "supplies.E005", "less than nothing"),
    ("needle,,25,,5", "supplies.E006", "gauge"),
    ("needle,x,25,,5", "supplies.E006", "gauge"),
    ("needle,16.5,25,,5", "supplies.E006", "gauge"),
    ("needle,38,25,,5", "supplies.E007", "swapped"),
    ("needle,15,25,,5", "supplies.E007", "swapped"),
    ("needle,25,1,,5", "supplies.E008", "write 25"),
    ("needle,25,0.625,,5", "supplies.E008", "write 16"),
    ("needle,25,5/8,,5", "supplies.E008", "write 16"),
    ("needle,25,1 1/2,,5", "supplies.E008", "write 38"),
    ("needle,25,1½,,5", "supplies.E008", "write 38"),
    ('needle,25,"1.25""",,5', "supplies.E008", "write 32"),
    ("needle,25,2 in,,5", "supplies.E008", "printed on the box"),
    ("needle,25,long,,5", "supplies.E009", "millimetres"),
    ("needle,25,,,5", "supplies.E009", "millimetres"),
    ("needle,25,5,,5", "supplies.E009", "6 to 80"),
    ("needle,25,81,,5", "supplies.E009", "6 to 80"),
    ("syringe,,,,5", "supplies.E010", "millilitres"),
    ("syringe,,,100,5", "supplies.E010", "millilitres"),
]


@pytest.mark.parametrize(("line", "code", "words"), BROKEN)
def test_a_broken_line_is_set_aside_with_its_fault_and_the_rest_is_read(line, code, words):
    found = read_supplies(HEADER + line + "\nwipe,,,,9\n", "supplies.csv")
    (fault,) = found.faults
    assert fault.code == code
    assert fault.at.startswith("supplies.csv, line 2")
    assert words in fault.text
    assert [row.item for row in found.lines] == ["wipe"]


def test_all_faults_of_a_line_are_told_at_once():
    codes = {fault.code for fault in read_supplies(HEADER + "needle,x,1,,-1\n").faults}
    assert codes == {"supplies.E005", "supplies.E006", "supplies.E008"}


def test_the_same_kind_twice_is_added_up_and_said():
    found = read_supplies(HEADER + "needle,25,25,,3\nneedle,25,25,,4\n")
    assert found.lines == (needle(25, 25, 7),)
    assert [fault.code for fault in found.faults] == ["supplies.W011"]


def test_a_missing_header_an_unknown_column_and_an_empty_file():
    assert [fault.code for fault in read_supplies("needle,25,25,,3\n").faults] == ["supplies.E002"]
    assert [fault.code for fault in read_supplies("").faults] == ["supplies.E002"]
    found = read_supplies("item,count,shelf\nwipe,3,B\n")
    assert [fault.code for fault in found.faults] == ["supplies.W012"]
    assert len(found.lines) == 1


def test_a_file_that_is_no_text_is_a_fault_not_a_crash(tmp_path):
    bad = tmp_path / "supplies.csv"
    bad.write_bytes(b"item,count\nwipe\xff\0,3\n")
    assert [f.code for f in read_supplies_file(bad).faults] == ["supplies.E001"]
    assert [f.code for f in read_supplies_file(tmp_path / "none.csv").faults] == ["supplies.E001"]


def test_the_right_length_is_taken_whatever_else_lies_there():
    supplies = [needle(25, 16, 50), needle(22, 25, 1), needle(25, 38, 50)]
    place = equip_one("2 months", "PCV20", supplies=supplies)
    assert (place.needle.gauge, place.needle.length_mm) == (22, 25)
    assert place.needle_missing is None


@pytest.mark.parametrize("supplies", [[], [needle(25, 16, 50), needle(21, 25, 50)]])
def test_a_missing_length_is_named_and_no_other_is_taken(supplies):
    place = equip_one("2 months", "PCV20", supplies=supplies)
    assert place.needle is None
    assert "25 mm" in place.needle_missing
    assert "25, 23, 24 or 22 gauge" in place.needle_missing


def test_a_shortage_shows_across_the_places_of_one_tray():
    child, on = child_of("2 months")
    doses = [dose("DTaP"), dose("PCV20"), dose("HepB")]
    layout = equip(child, on, doses, [needle(25, 25, 2)])
    assert sum(place.needle is not None for place in layout.places) == 2
    assert sum(place.needle_missing is not None for place in layout.places) == 1


def test_a_scarce_needle_goes_where_no_other_will_do():
    """One 25 mm, one 16 mm: the thigh of a 4-year-old's dose needs 25, the arm can take 16."""
    child, on = child_of("4 years", avoid=("RA", "RT"), conditions=["deltoid-muscle-small"])
    layout = equip(
        child, on, [dose("DTaP-IPV"), dose("HepB")], [needle(25, 25, 1), needle(25, 16, 1)]
    )
    taken = {place.site_key: place.needle.length_mm for place in layout.places}
    assert taken == {"thigh": 25, "deltoid": 16}


def test_a_needle_with_syringe_serves_a_vial_as_both():
    child, on = child_of("5 years")
    supplies = [whole(25, 25, 1.0, 1)]
    place = equip(child, on, [dose("HepA", presentation="vial")], supplies).places[0]
    assert (place.one_piece, place.syringe_ml, str(place.needle)) == (True, 1.0, "25 G × 25 mm")
    assert (place.needle_missing, place.syringe_missing) == (None, None)


def test_a_needle_with_syringe_on_a_ready_filled_syringe_is_said():
    place = equip_one("5 years", "HepA", supplies=[whole(25, 25, 1.0, 1)])
    assert place.needle is not None
    assert any("comes off" in text for text in place.cautions)
    loose = equip_one("5 years", "HepA", supplies=[whole(25, 25, 1.0, 1), needle(23, 16, 1)])
    assert not loose.one_piece


def test_a_missing_syringe_is_named():
    child, on = child_of("5 years")
    place = equip(child, on, [dose("HepA", presentation="vial")], [needle(25, 25, 5)]).places[0]
    assert "1 mL or 3 mL" in place.syringe_missing
    assert place.needle is not None


def test_without_supplies_nothing_is_called_missing():
    layout = equip_many("12 months", ["HepA", "MMR", "PCV20"])
    assert all(place.needle and not place.needle_missing for place in layout.places)


def test_a_blind_supply_of_the_wrong_kind_is_never_used_for_the_skin():
    place = equip_one("5 years", "MMR", supplies=[needle(25, 25, 9), syringe(3.0, 9)])
    assert place.needle is None
    assert "16 mm" in place.needle_missing
