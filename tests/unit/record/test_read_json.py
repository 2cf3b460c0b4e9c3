"""Reading children from JSON: what is taken, what is refused, and where each fault lies."""

from __future__ import annotations

import json
from datetime import date

import pytest

from traywise.record import Condition, DoseGiven, read_children

TODAY = date(2026, 11, 24)


def read(data, name="f.json", **options):
    return read_children(data, name, today=TODAY, **options)


def child(**values) -> str:
    return json.dumps({"id": "a", "born": "2026-01-05", **values})


def codes(result) -> list[str]:
    return [fault.code for fault in result.all_faults]


FULL = {
    "id": "a", "name": "Example", "born": "2026-01-05", "sex": "F", "gestation_weeks": 39,
    "birth_weight_g": 3200, "weight_kg": 8.1, "weighed_on": "2026-11-01", "height_cm": 70,
    "doses": [
        {"on": "2026-03-05", "cvx": 3, "mvx": "XYZ", "lot": "L1", "expires": "2027-02",
         "route": "SQ", "site": "lt", "volume_ml": 0.5, "full": True,
         "campaign": False, "note": "n"},
    ],
    "conditions": ["asthma", {"key": "pregnant", "from": "2026-02-01", "until": None}],
    "answers": {"fever": "no", "temperature": 37.2, "x": None},
    "products": [{"on": "2026-02-01", "kind": "hbig"}],
    "avoid": ["LT"], "appointment": "09:20", "assess_on": "2026-11-20",
}  # fmt: skip


def test_every_key_of_the_contract_is_read():
    result = read(json.dumps(FULL))
    (found,) = result.children
    assert result.all_faults == ()
    assert found.doses == (
        DoseGiven(
            on=date(2026, 3, 5), cvx="03", mvx="XYZ", lot="L1", expires=date(2027, 2, 28),
            route="SC", site="LT", volume_ml=0.5, full=True, campaign=False, note="n",
        ),
    )  # fmt: skip
    assert found.conditions == (
        Condition(key="asthma"),
        Condition(key="pregnant", since=date(2026, 2, 1)),
    )
    assert found.answers == {"fever": "no", "temperature": 37.2}
    assert (found.products[0].kind, found.avoid, found.appointment) == ("hbig", ("LT",), "09:20")
    assert (found.assess_on, found.gestation_weeks) == (date(2026, 11, 20), 39)


def test_null_and_absent_mean_the_same():
    with_nulls = {key: None for key in FULL if key not in ("id", "born")}
    assert read(child(**with_nulls)).children == read(child()).children


@pytest.mark.parametrize(
    "text",
    [
        child(),
        "[" + child() + "]",
        child() + "\n",
        "\r\n" + child() + "\r\n\r\n",
        json.dumps(json.loads(child()), indent=2),
    ],
)
@pytest.mark.parametrize(
    "encode",
    [
        str,
        str.encode,
        lambda text: text.encode("utf-8-sig"),
        lambda text: text.encode("utf-16"),
        lambda text: text.encode("utf-16-le"),
        lambda text: text.encode("utf-16-be"),
        lambda text: text.encode("utf-32"),
    ],
)
def test_one_child_is_read_in_each_shape_and_encoding(text, encode):
    result = read(encode(text))
    assert [one.id for one in result.children] == ["a"]
    assert result.all_faults == ()


@pytest.mark.parametrize("opening", ["", "["])
def test_many_children_keep_their_order_and_lines(opening):
    lines = [json.dumps({"id": str(n), "born": "2026-01-05"}) for n in range(4)]
    text = "[" + ",\n".join(lines) + "]" if opening else "\n".join(lines)
    result = read(text)
    assert [entry.id for entry in result.entries] == ["0", "1", "2", "3"]
    assert [entry.at for entry in result.entries] == [f"f.json, line {n}" for n in (1, 2, 3, 4)]


def test_a_bad_child_is_set_aside_with_its_id_and_the_others_are_read():
    bad = child(doses=[{"on": "05/03/2026", "cvx": "20"}])
    good = json.dumps({"id": "b", "born": "2026-01-05"})
    broken = '{"id": "c", "born"'
    result = read("\n".join([bad, broken, good]))
    assert [(entry.id, entry.child is None) for entry in result.entries] == [
        ("a", True), ("c", True), ("b", False),
    ]  # fmt: skip
    assert result.entries[0].faults[0].at == "f.json, line 1, doses[0].on"
    assert result.entries[1].faults[0].at.startswith("f.json, line 2")
    assert not result.complete


def test_all_faults_of_a_child_are_told_in_one_run():
    result = read(child(sex="Q", weight_kg="6", doses=[{"cvx": "x"}, 7]))
    assert codes(result) == [
        "record.E025", "record.E020", "record.E026", "record.E030", "record.E003",
    ]  # fmt: skip


def test_a_fault_in_a_printed_object_names_its_own_line():
    text = '{\n "id": "a",\n "born": "2026-01-05",\n "doses": [\n  {"on": "x",\n   "cvx": 3}\n ]\n}'
    assert [fault.at for fault in read(text).all_faults] == ["f.json, line 5, doses[0].on"]


def test_checks_name_the_place_in_the_file_when_an_earlier_dose_was_refused():
    doses = [{"on": "x", "cvx": "20"}, {"on": "2020-01-01", "cvx": "20"}]
    places = [fault.at for fault in read(child(doses=doses)).all_faults]
    assert places == ["f.json, line 1, doses[0].on", "f.json, line 1, doses[1].on"]


@pytest.mark.parametrize(
    ("value", "proposals"),
    [
        ("05/03/2026", ['"2026-05-03"', '"2026-03-05"']),
        ("23.5.2026", ['"2026-05-23"']),
        ("2026/3/5", ['"2026-03-05"']),
        ("20260305", ['"2026-03-05"']),
        ("2026-03-05T10:00:00Z", ['"2026-03-05"']),
        ("5 March", []),
        ("05/03/26", []),
    ],
)
def test_another_form_of_date_is_refused_with_what_it_may_mean(value, proposals):
    (fault,) = read(child(weighed_on=value)).all_faults
    assert fault.code == "record.E021"
    assert all(proposal in fault.text for proposal in proposals)
    assert fault.text.count('"20') - (1 if value.startswith("20") else 0) == len(proposals)


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ("2024-02-29", None), ("2023-02-29", "record.E023"), ("2024-05", "record.E022"),
        ("2024", "record.E022"), (20240229, "record.E020"), ("1899-12-31", "record.E024"),
        ("\u0662024-01-01", "record.E021"), ("2024-05-32", "record.E023"),
    ],
)  # fmt: skip
def test_a_date_of_birth_is_a_full_day(value, code):
    assert codes(read(child(born=value))) == ([code] if code else [])


@pytest.mark.parametrize(
    ("value", "cvx"),
    [(3, "03"), ("3", "03"), ("03", "03"), ("003", "03"), (110, "110"), (" 20 ", "20")],
)
def test_a_code_is_read_with_and_without_its_zero(value, cvx):
    (found,) = read(child(doses=[{"on": "2026-03-05", "cvx": value}])).children
    assert found.doses[0].cvx == cvx


@pytest.mark.parametrize("value", [True, 3.0, "", "x", "12345", -3, [], {}])
def test_what_is_no_code_is_refused(value):
    assert not read(child(doses=[{"on": "2026-03-05", "cvx": value}])).children


@pytest.mark.parametrize("value", ["NaN", "Infinity", "-Infinity", "1e999", "0", "-1", "true"])
def test_what_is_no_weight_is_refused(value):
    text = '{"id": "a", "born": "2026-01-05", "weight_kg": ' + value + "}"
    assert not read(text).children


def test_an_unknown_key_is_a_warning_with_the_nearest_known_one():
    result = read(child(wieght_kg=6, doses=[{"on": "2026-03-05", "cvx": "20", "lott": "1"}]))
    assert [(fault.code, fault.at.rpartition(", ")[2]) for fault in result.all_faults] == [
        ("record.W001", "wieght_kg"), ("record.W001", "doses[0].lott"),
    ]  # fmt: skip
    assert '"weight_kg"' in result.all_faults[0].text
    assert len(result.children) == 1


def test_an_id_that_stands_twice_sets_both_aside():
    result = read("\n".join([child(), child(born="2025-01-05"), '{"id":"b","born":"2026-01-05"}']))
    assert [entry.child is None for entry in result.entries] == [True, True, False]


def test_a_whole_number_is_an_id_too():
    assert read('{"id": 17, "born": "2026-01-05"}').children[0].id == "17"


def test_a_condition_is_known_by_its_other_words():
    (found,) = read(child(conditions=["Immunosuppressed"])).children
    assert found.conditions == (Condition(key="immunocompromised"),)


def test_a_condition_that_no_rule_knows_is_kept_and_said():
    result = read(child(conditions=["left-handed"]))
    assert codes(result) == ["record.W003"]
    assert result.children[0].conditions == (Condition(key="left-handed"),)


def test_ten_thousand_children_take_seconds_not_minutes():
    import time

    line = '{"id":"%d","born":"2024-01-05","doses":[{"on":"2024-03-05","cvx":"20"}]}'
    text = "\n".join(line % number for number in range(10_000))
    start = time.perf_counter()
    assert len(read(text).children) == 10_000
    assert time.perf_counter() - start < 5


def test_half_a_surrogate_pair_is_refused_because_nothing_could_write_it_again():
    whole, half = "\\ud83d\\ude00", "\\ud83d"
    text = child(name="HERE")
    assert read(text.replace("HERE", whole)).children[0].name == "\U0001f600"
    assert codes(read(text.replace("HERE", half))) == ["record.E002"]
    assert codes(read('{"id": "\ud83d", "born": "2026-01-05"}')) == ["record.E001"]


def test_control_signs_are_written_out_in_faults():
    result = read(child(**{"\x1b[31m": 1, "sex": "\x07"}))
    for fault in result.all_faults:
        assert (fault.at + fault.text).isprintable()
    assert len(result.all_faults) == 2


GOOD = '{"id": "%s", "born": "2026-01-05"}'
PRINTED = '{\n  "id": "%s",\n  "born": "2026-01-05"\n}'


@pytest.mark.parametrize(
    "text",
    [
        "[" + GOOD % "a" + ', {"id": "b", "born": },' + GOOD % "c" + "]",
        GOOD % "a" + '\n{"id": "b", "born": "2026-01-05"\n' + GOOD % "c",
        GOOD % "a" + "\n" + GOOD % "b" + ",\n" + GOOD % "c",
        PRINTED % "a" + '\n{\n"id": "b",\n"born": 1-2\n}\n' + PRINTED % "c",
        GOOD % "a" + '{"id": "b", "born" "x]}"}' + GOOD % "c",
    ],
)
def test_a_broken_child_in_the_middle_does_not_hide_those_after_it(text):
    result = read(text)
    assert [(entry.id, entry.child is None) for entry in result.entries] == [
        ("a", False), ("b", True), ("c", False),
    ]  # fmt: skip
    assert codes(result) == ["record.E002"]


def test_printed_objects_one_after_another_are_read_with_their_lines():
    result = read("\n".join(PRINTED % name for name in "abc"))
    assert [entry.at for entry in result.entries] == [f"f.json, line {n}" for n in (1, 5, 9)]
    assert len(result.children) == 3


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("[" + GOOD % "a" + "\n" + GOOD % "b" + "]", "f.json, line 2"),
        ("[" + GOOD % "a" + "]\n\nx", "f.json, line 3"),
        ("[" + GOOD % "a", "f.json, line 1"),
        (GOOD % "a" + "\nx", "f.json, line 2"),
        (PRINTED % "a" + "\n]", "f.json, line 5"),
    ],
)
def test_what_does_not_belong_after_a_child_is_told_and_the_child_is_read(text, at):
    result = read(text)
    assert [child.id for child in result.children] == ["a"]
    assert [(fault.code, fault.at) for fault in result.all_faults] == [("record.E002", at)]
