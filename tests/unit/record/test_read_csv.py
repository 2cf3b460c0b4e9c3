"""Reading tables: the four layouts, the order of dates, units, words, and a fault for each cell."""

from __future__ import annotations

import time
from datetime import date

import pytest

from traywise.record import DoseGiven, read_table
from traywise.record.cell_dates import find_order, read_cell_date
from traywise.record.columns import read_heads
from traywise.record.values import BadValue

TODAY = date(2026, 11, 24)


def read(text, **options):
    return read_table(text, "r.csv", today=TODAY, **options)


def codes(result):
    return [fault.code for fault in result.all_faults]


MARCH, MAY = date(2026, 3, 5), date(2026, 5, 7)
WANTED = (DoseGiven(on=MARCH, cvx="107"), DoseGiven(on=MAY, cvx="107"))


@pytest.mark.parametrize(
    "text",
    [
        "id,born,DTaP 1,DTaP 2\na,2026-01-05,2026-03-05,2026-05-07\n",
        "id;born;DTaP #1;DTaP date 2\na;2026-01-05;2026-03-05;2026-05-07\n",
        "sep=;\nid;born;DTaP1;DTaP2\na;2026-01-05;2026-03-05;2026-05-07\n",
        "ID\tDate of birth\tVaccine\tDate given\na\t2026-01-05\tDTaP\t2026-03-05\n"
        "a\t\tCVX 107\t2026-05-07\n",
        "Roster of the morning\n\nid,born,date,cvx\na,2026-01-05,2026-03-05 00:00:00,107.0\n"
        "a,2026-01-05,7 May 2026,107\n",
        'id,born,date,cvx\n"a",46027,46086,107\n"a",46027,46149,107\n',
    ],
)
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_each_layout_gives_the_same_child(text, end):
    result = read(text.replace("\n", end))
    (found,) = result.children
    assert (found.id, found.born, found.doses) == ("a", date(2026, 1, 5), WANTED)


def test_two_files_are_joined_by_id():
    doses = "child id,date,vaccine\na,2026-03-05,DTaP\nz,2026-03-05,DTaP\na,2026-05-07,DTaP\n"
    result = read("id,born\na,2026-01-05\nb,2026-01-06\n", doses=(doses, "d.csv"))
    assert [(one.id, one.doses) for one in result.children] == [("a", WANTED), ("b", ())]
    assert [fault.at for fault in result.all_faults] == ["d.csv, line 3, column child id"]


@pytest.mark.parametrize(("cell", "wanted"), [("yes", True), ("no", False), ("", None)])
def test_a_table_can_say_that_a_dose_was_given_in_a_campaign(cell, wanted):
    (found,) = read(f"id,born,date,cvx,campaign\na,2014-01-05,2014-03-05,02,{cell}\n").children
    assert found.doses[0].campaign is wanted


def test_the_mapping_shows_what_was_read_as_what():
    result = read("MRN,DOB (dd/mm/yyyy),Wt (lb),MMR,Shoe\n1,03/04/2025,20,,\n")
    (mapping,) = result.mappings
    assert [(column.header, column.field) for column in mapping.columns] == [
        ("MRN", "id"), ("DOB (dd/mm/yyyy)", "born"), ("Wt (lb)", "weight_kg"),
        ("MMR", "dose given, CVX 03"), ("Shoe", None),
    ]  # fmt: skip
    assert (mapping.layout, mapping.delimiter) == ("one column a dose", "comma")
    assert result.children[0].born == date(2025, 4, 3)
    assert result.children[0].weight_kg == pytest.approx(9.07, abs=0.001)


@pytest.mark.parametrize(
    ("heads", "wanted"),
    [  # RV1 and RV5, HPV2 and HPV9 are vaccines; RV1 and RV2 side by side are doses
        (["RV1", "RV5"], ["119", "116"]),
        (["RV1", "RV2", "RV3"], ["122", "122", "122"]),
        (["HPV1", "HPV2"], ["137", "137"]),
        (["HPV2", "HPV9"], ["118", "165"]),
        (["PCV13 1", "PCV13 2"], ["133", "133"]),
        (["Hep B 1", "DTaP-HepB-IPV (2)"], ["45", "110"]),
        (["Q1", "Remark"], [None, None]),
        (["HepB birth dose", "1st DTaP", "Second MMR (date given)"], ["45", "107", "03"]),
        (["COVID-19", "COVID-19 2", "PCV13"], ["213", "213", "133"]),
    ],
)
def test_a_column_of_a_vaccine_is_told_from_its_dose_number(heads, wanted):
    assert [head.cvx for head in read_heads(heads)] == wanted


@pytest.mark.parametrize(
    ("cells", "order"),
    [
        (["03/05/2024", "23/05/2024"], "dmy"), (["03/05/2024", "05/23/2024"], "mdy"),
        (["03/05/2024"], None), (["23/05/2024", "05/23/2024"], None),
        (["05/05/2024"], "any"), (["2024-05-03", "45415", ""], "any"),
    ],
)  # fmt: skip
def test_the_order_of_a_column_is_found_or_left_open(cells, order):
    assert find_order(cells)[0] == order


def test_a_column_that_may_hold_doses_is_never_passed_over():
    heads = "id,born,HepB in the ward"
    result = read(f"{heads}\na,2026-01-05,2026-01-06\nb,2026-01-05,\n")
    assert codes(result) == ["record.E112"]
    assert [child.id for child in result.children] == ["b"]
    assert codes(read(f"{heads}\na,2026-01-05,yes\n")) == ["record.W101"]


def test_an_order_that_was_stated_decides_only_what_is_open():
    table = "id,born\na,03/04/2026\n"
    assert read(table).children == ()
    assert read(table, date_order="dmy").children[0].born == date(2026, 4, 3)
    assert read(table, date_order="mdy").children[0].born == date(2026, 3, 4)
    assert codes(read("id,born\na,23/04/2026\n", date_order="mdy")) == ["record.E104"]


def test_each_column_has_its_own_order():
    table = "id,born,weighed on\na,23/01/2026,02/23/2026\nb,03/02/2026,03/04/2026\n"
    result = read(table)
    assert [(one.born.month, one.weighed_on.month) for one in result.children] == [(1, 2), (2, 3)]


@pytest.mark.parametrize(
    ("cell", "wanted"),
    [
        ("2024-05-03", "2024-05-03"), ("2024-5-3", "2024-05-03"), ("3.5.2024", "2024-05-03"),
        ("3 May 2024", "2024-05-03"), ("May 3, 2024", "2024-05-03"), ("03-May-2024", "2024-05-03"),
        ("2024-05-03T00:00:00", "2024-05-03"), ("45415.0", "2024-05-03"),
        ("03/05/2024 14:30", "2024-05-03"), ("03/05/24", None), ("2024-05", None), ("soon", None),
        ("31/02/2024", None), ("00/05/2024", None), ("99999", None),
    ],
)  # fmt: skip
def test_a_date_is_read_in_each_form_or_refused(cell, wanted):
    if wanted is None:
        with pytest.raises(BadValue):
            read_cell_date(cell, "dmy")
    else:
        assert read_cell_date(cell, "dmy").isoformat() == wanted


@pytest.mark.parametrize(
    ("head", "cell", "kg", "warned"),
    [
        ("weight", "9,4 kg", 9.4, False), ("weight", "9400 g", 9.4, False),
        ("weight", "20 lb", 9.072, False), ("weight", "20 lb 8 oz", 9.299, False),
        ("weight", "9.4", 9.4, True), ("weight_kg", "9.4", 9.4, False),
        ("Weight (g)", "9400", 9.4, False), ("weight", "9,400 g", None, False),
        ("weight", "9.4 cm", None, False), ("weight", "heavy", None, False),
    ],
)  # fmt: skip
def test_a_weight_needs_a_unit(head, cell, kg, warned):
    result = read(f'id,born,{head}\na,2026-01-05,"{cell}"\n')
    if kg is None:
        assert codes(result) == ["record.E106"]
    else:
        assert result.children[0].weight_kg == pytest.approx(kg, abs=0.005)
        assert codes(result) == (["record.W104"] if warned else [])


@pytest.mark.parametrize(
    ("cell", "weeks"), [("39", 39), ("39+4", 39), ("38w6d", 38), ("37 weeks", 37), ("?", None)]
)
def test_gestation_is_read_in_completed_weeks(cell, weeks):
    assert read(f"id,born,GA\na,2026-01-05,{cell}\n").children[0].gestation_weeks == weeks


@pytest.mark.parametrize(
    ("cell", "wanted"),
    [("9:20", "09:20"), ("9.20", "09:20"), ("09:20:00", "09:20"), ("12:05 pm", "12:05"),
     ("12:05 AM", "00:05"), ("1:05 p.m.", "13:05"), ("24:00", None), ("13:05 pm", None),
     ("soon", None)],
)  # fmt: skip
def test_an_appointment_is_read_in_hours_and_minutes(cell, wanted):
    result = read(f"id,born,appointment\na,2026-01-05,{cell}\n")
    assert [child.appointment for child in result.children] == ([wanted] if wanted else [])


def test_first_and_last_name_make_the_name():
    (child,) = read("No,MRN,Surname,First name,DOB\n1,7,Doe,Jo,2026-01-05\n").children
    assert (child.id, child.name) == ("7", "Jo Doe")


def test_what_only_a_later_line_says_is_taken_and_then_held_to():
    table = (
        "id,born,sex,date,cvx\na,2026-01-05,,2026-03-05,20\n"
        "a,,F,2026-05-05,20\na,,M,2026-07-05,20\n"
    )
    (fault,) = read(table).all_faults
    assert (fault.code, fault.at) == ("record.E107", "r.csv, line 4, column sex")
    assert "line 3" in fault.text


def test_a_misspelled_word_is_asked_about():
    result = read("id,born,sex\na,2026-01-05,femal\nb,2026-01-05,Girl\n")
    assert [one.sex for one in result.children] == ["F"]
    (fault,) = result.all_faults
    assert (fault.code, fault.at) == ("record.E025", "r.csv, line 2, column sex")
    assert '"female"' in fault.text


def test_one_fault_for_each_wrong_cell_and_the_other_lines_are_read():
    table = "id,born,date,vaccine\na,x,y,z\nb,2026-01-05,2026-03-05,20\n"
    result = read(table)
    assert [fault.at for fault in result.all_faults] == [
        "r.csv, line 2, column born", "r.csv, line 2, column date",
        "r.csv, line 2, column vaccine",
    ]  # fmt: skip
    assert [entry.id for entry in result.entries] == ["a", "b"]
    assert len(result.children) == 1


def test_a_fault_after_a_cell_of_two_lines_names_the_right_line():
    table = 'id,born,note,date,cvx\na,2026-01-05,"two\nlines",2026-03-05,20\nb,x,,,\n'
    assert [fault.at for fault in read(table).all_faults] == ["r.csv, line 4, column born"]


def test_plausibility_names_the_cell():
    result = read("id,born,DTaP 1\na,2026-01-05,2025-03-05\n")
    assert [(f.code, f.at) for f in result.all_faults] == [
        ("record.E041", "r.csv, line 2, column DTaP 1")
    ]


def test_a_second_line_for_a_child_in_a_roster_is_refused():
    result = read("id,born\na,2026-01-05\nb,2026-01-05\na,2026-01-06\n")
    assert [(entry.id, entry.child is None) for entry in result.entries] == [
        ("a", True), ("b", False),
    ]  # fmt: skip


def test_a_table_of_ten_thousand_children_is_read_in_seconds():
    heads = "id,born," + ",".join(f"DTaP {n}" for n in range(1, 6))
    rows = "\n".join(
        f"{n},2024-01-{n % 27 + 1:02},"
        + ",".join(f"2024-{month:02}-{n % 27 + 1:02}" for month in (3, 5, 7, 9, 11))
        for n in range(10_000)
    )
    start = time.perf_counter()
    assert len(read(f"{heads}\n{rows}\n").children) == 10_000
    assert time.perf_counter() - start < 5  # 0.6 s alone; room for a busy machine


ROSTER = "id,born\na,2026-01-05\nb,2026-01-06\n"


@pytest.mark.parametrize(
    ("doses", "code"),
    [
        ("id,date\na,2026-03-05\n", "record.E102"),
        ("", "record.E005"),
        ('id,date,cvx\na,2026-03-05,20\nb,"2026-03-05,20\n', "record.E111"),
        ("id,date,given,cvx\na,2026-03-05,2026-03-05,20\n", "record.E103"),
    ],
)
def test_nobody_is_answered_when_lines_with_doses_were_not_read(doses, code):
    result = read(ROSTER, doses=(doses, "d.csv"))
    assert codes(result) == [code]
    assert [(entry.id, entry.child) for entry in result.entries] == [("a", None), ("b", None)]


def test_an_open_quote_in_a_roster_leaves_the_children_above_it():
    result = read('id,born\na,2026-01-05\nb,"2026-01-06\n')
    assert (codes(result), [child.id for child in result.children]) == (["record.E111"], ["a"])


def test_an_open_quote_among_lines_of_doses_sets_all_aside():
    result = read('id,born,date,cvx\na,2026-01-05,2026-03-05,20\na,,"2026-05-05,20\n')
    assert (codes(result), result.children) == (["record.E111"], ())


def test_doses_are_read_when_a_column_of_the_roster_is_in_doubt():
    roster = "id,born,weighed on\na,2026-01-05,03/04/2026\nb,2026-01-06,\n"
    result = read(roster, doses=("id,date,cvx\nb,2026-03-05,20\n", "d.csv"))
    assert codes(result) == ["record.E104"]
    assert [(child.id, len(child.doses)) for child in result.children] == [("b", 1)]


@pytest.mark.parametrize(
    ("name", "cvx"),
    [  # names of our own list, the foreign ones from memory
        ("tOPV", "02"), ("bOPV", "178"), ("OPV", "182"), ("ROR", "03"), ("Triple viral", "03"),
        ("sarampión", "05"), ("SARAMPION", "05"), ("DTC", "01"), ("DTCa", "107"), ("VPI", "10"),
        ("hépatite B", "45"), ("varicela", "21"),
    ],
)  # fmt: skip
def test_words_of_cards_from_abroad_that_have_one_meaning_are_read(name, cvx):
    result = read(f"id,born,date,vaccine\n1,2015-02-01,2016-03-01,{name}\n")
    assert [dose.cvx for dose in result.children[0].doses] == [cvx]


@pytest.mark.parametrize("name", ["Pentavalent", "rubeola"])
def test_a_word_that_means_two_vaccines_is_not_guessed(name):
    result = read(f"id,born,date,vaccine\n1,2015-02-01,2016-03-01,{name}\n")
    assert [fault.code for fault in result.all_faults] == ["record.E109"]


def test_a_table_of_names_alone_is_told():
    assert [fault.code for fault in read("id,born\n").faults] == ["record.E005"]
    both = read("id,born\n1,2024-01-01\n", doses=("id,date,vaccine\n", "d.csv"))
    assert not both.all_faults
