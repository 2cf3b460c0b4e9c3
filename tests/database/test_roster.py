"""A dropped roster: what is good is taken in, what is not waits and is mended, nothing is lost."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from traywise.workbench.children.models import ChildRecord, DraftRow, Import
from traywise.workbench.children.roster_text import cell_at, mend_cell, mend_entry
from traywise.workbench.day.models import Appointment, DayEvent

pytestmark = pytest.mark.django_db
DAY = date(2026, 11, 24)
PAGE = "/day/2026-11-24/roster/"
TABLE = (
    "id,name,born,sex,weight,appointment\n"
    "a1,Ann Bee,2026-02-30,F,6.4 kg,09:00\n"
    'a2,"Bo, the second",2026-01-05,boi,14 lb,09:20\n'
    "a3,Cy,2026-01-05,M,6400 kg,09:40\n"
    "a4,Dee,2026-03-01,F,5.9 kg,10:00\n"
)


@pytest.fixture
def desk(as_role: Callable[[str], Any]) -> Any:
    return as_role("reception")


def drop(client: Any, content: str | bytes, name: str = "roster.csv") -> Any:
    data = content.encode() if isinstance(content, str) else content
    return client.post(PAGE, {"file": SimpleUploadedFile(name, data)})


def states() -> dict[str, str]:
    return dict(DraftRow.objects.values_list("child_id_text", "state"))


def test_good_rows_come_in_at_once_and_the_others_wait(desk: Any) -> None:
    where = drop(desk, TABLE).headers["Location"]
    assert states() == {"a1": "waiting", "a2": "waiting", "a3": "waiting", "a4": "taken"}
    assert [v.child.name for v in Appointment.objects.filter(day=DAY)] == ["Dee"]
    assert DayEvent.objects.filter(text__contains="Dee was added").exists()
    page = desk.get(where).content.decode()
    # Each fault stands at a field that holds what was typed.
    for typed in ("2026-02-30", "boi", "6400 kg"):
        assert f'value="{typed}" aria-invalid="true"' in page


def test_a_fault_is_mended_in_its_cell_and_the_rest_stays_as_typed(desk: Any) -> None:
    where = drop(desk, TABLE).headers["Location"]
    desk.post(where, {"cell-3-3": "m"})
    assert states()["a2"] == "taken"
    assert states()["a1"] == "waiting"
    child = ChildRecord.objects.get(record_id="a2").read()
    assert (child.name, child.sex) == ("Bo, the second", "M")
    assert child.weight_kg == pytest.approx(6.35, abs=0.01)
    desk.post(where, {"cell-2-2": "2026-02-20", "cell-4-4": "6.4 kg"})
    assert set(states().values()) == {"taken"}
    assert Appointment.objects.filter(day=DAY).count() == 4
    assert "boi" not in Import.objects.get().text
    assert "6400" not in Import.objects.get().text


def test_a_wrong_mending_is_kept_and_shown_again(desk: Any) -> None:
    where = drop(desk, TABLE).headers["Location"]
    desk.post(where, {"cell-2-2": "30th of February"})
    assert states()["a1"] == "waiting"
    assert 'value="30th of February"' in desk.get(where).content.decode()


def test_a_row_set_aside_is_kept_and_can_come_back(desk: Any) -> None:
    where = drop(desk, TABLE).headers["Location"]
    row = DraftRow.objects.get(child_id_text="a1")
    desk.post(f"/import/row/{row.pk}/aside/")
    desk.post(where, {"cell-3-3": "m"})  # reading again leaves it aside
    assert states()["a1"] == "aside"
    row = DraftRow.objects.get(child_id_text="a1")
    desk.post(f"/import/row/{row.pk}/aside/")
    assert states()["a1"] == "waiting"


def test_the_same_file_twice_makes_no_child_and_no_visit_twice(desk: Any) -> None:
    drop(desk, TABLE)
    drop(desk, TABLE)
    assert ChildRecord.objects.filter(record_id="a4").count() == 1
    assert Appointment.objects.filter(child__record_id="a4").count() == 1


def test_an_id_that_belongs_to_another_child_waits_for_a_person(desk: Any) -> None:
    drop(desk, TABLE)
    where = drop(desk, TABLE.replace("2026-03-01", "2026-04-01")).headers["Location"]
    waiting = DraftRow.objects.get(
        source=Import.objects.latest("pk"), child_id_text="a4", state="waiting"
    )
    assert waiting.faults[-1][0] == "workbench.E010"
    assert ChildRecord.objects.get(record_id="a4").born == date(2026, 3, 1)
    desk.post(where, {"cell-5-2": "2026-03-01"})
    waiting = DraftRow.objects.get(source=Import.objects.latest("pk"), child_id_text="a4")
    assert waiting.state == "taken"


def test_a_known_child_gains_doses_and_loses_nothing(desk: Any) -> None:
    first = {
        "id": "b1",
        "name": "Fay",
        "born": "2026-01-05",
        "weight_kg": 7.0,
        "doses": [{"on": "2026-03-05", "cvx": "110"}],
    }
    second = {
        "id": "b1",
        "born": "2026-01-05",
        "doses": [{"on": "2026-03-05", "cvx": "110"}, {"on": "2026-05-05", "cvx": "110"}],
    }
    drop(desk, json.dumps(first), "one.json")
    drop(desk, json.dumps(second), "two.json")
    child = ChildRecord.objects.get(record_id="b1").read()
    assert child.weight_kg == 7.0
    assert [dose.on.isoformat() for dose in child.doses] == ["2026-03-05", "2026-05-05"]


def test_a_json_entry_is_mended_as_text(desk: Any) -> None:
    lines = '{"id": "j1", "born": "2026-13-05"}\n{"id": "j2", "born": "2026-01-05"}\n'
    where = drop(desk, lines, "roster.jsonl").headers["Location"]
    assert states() == {"j1": "waiting", "j2": "taken"}
    desk.post(where, {"entry-1": '{"id": "j1",\n "born": "2026-12-05"\n}'})
    # Born after the day is a doubt of its own; the entry was read again all the same.
    assert "2026-12-05" in Import.objects.get().text
    desk.post(where, {"entry-1": '{"id": "j1", "born": "2026-10-05"}'})
    assert states() == {"j1": "taken", "j2": "taken"}


def test_dates_whose_order_is_open_are_asked_about(desk: Any) -> None:
    table = "id,born\nx1,03/04/2026\nx2,05/06/2026\n"
    where = drop(desk, table).headers["Location"]
    assert b"In which order are the dates written?" in desk.get(where).content
    assert not ChildRecord.objects.exists()
    desk.post(where, {"date_order": "dmy"})
    assert ChildRecord.objects.get(record_id="x1").born == date(2026, 4, 3)


def test_a_fhir_bundle_is_taken_in(desk: Any) -> None:
    patient = {
        "resourceType": "Patient",
        "id": "f1",
        "name": [{"family": "Invented", "given": ["Fern"]}],
        "birthDate": "2026-01-05",
        "gender": "female",
    }
    dose = {
        "resourceType": "Immunization",
        "status": "completed",
        "vaccineCode": {"coding": [{"system": "http://hl7.org/fhir/sid/cvx", "code": "110"}]},
        "patient": {"reference": "Patient/f1"},
        "occurrenceDateTime": "2026-03-05",
    }
    entries = [{"resource": patient}, {"resource": dose}]
    bundle = {"resourceType": "Bundle", "type": "collection", "entry": entries}
    where = drop(desk, json.dumps(bundle), "bundle.json").headers["Location"]
    child = ChildRecord.objects.get().read()
    assert (child.name, child.sex) == ("Fern Invented", "F")
    assert [(dose.on.isoformat(), dose.cvx) for dose in child.doses] == [("2026-03-05", "110")]
    assert desk.get(where).status_code == 200


def test_a_fhir_bundle_with_a_fault_is_mended_as_text(desk: Any) -> None:
    text = json.dumps({"resourceType": "Patient", "id": "f2", "birthDate": "2026-02-31"})
    where = drop(desk, text, "patient.json").headers["Location"]
    assert not ChildRecord.objects.exists()
    assert "2026-02-31" in desk.get(where).content.decode()
    desk.post(where, {"whole": text.replace("02-31", "02-20")})
    assert ChildRecord.objects.get().born == date(2026, 2, 20)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("roster.xlsx", b"PK\x03\x04" + b"\0" * 400),
        ("bomb.gz", b"\x1f\x8b\x08" + b"\0" * 400),
        ("photo.csv", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + b"\0" * 200),
        ("old.xls", b"\xd0\xcf\x11\xe0" + b"\0" * 400),
    ],
)
def test_what_is_no_text_is_refused_with_a_way_out(desk: Any, name: str, content: bytes) -> None:
    response = drop(desk, content, name)
    assert response.status_code == 400
    assert b"workbench.E00" in response.content
    assert not Import.objects.exists()


BOMB = (
    '<?xml version="1.0"?><!DOCTYPE b [<!ENTITY a "aaaaaaaaaaaaaaaaaaaa">'
    + "".join(
        f'<!ENTITY a{n} "{"&a" + str(n - 1) + ";" if n else "&a;"}'
        + (f"&a{n - 1};" if n else "&a;") * 9
        + '">'
        for n in range(12)
    )
    + ']><Bundle xmlns="http://hl7.org/fhir"><id value="&a11;"/></Bundle>'
)
OUTSIDE = (
    '<?xml version="1.0"?><!DOCTYPE b [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    '<Bundle xmlns="http://hl7.org/fhir"><id value="&x;"/></Bundle>'
)


@pytest.mark.parametrize("content", [BOMB, OUTSIDE], ids=["entities in entities", "outside file"])
def test_an_xml_bomb_is_refused_quickly(desk: Any, content: str) -> None:
    where = drop(desk, content, "bundle.xml").headers["Location"]
    source = Import.objects.get()
    assert any(".E" in code for code, _, _ in source.file_faults)
    assert not ChildRecord.objects.exists()
    assert b"root:" not in desk.get(where).content


def test_a_hundred_megabytes_are_refused_unread(desk: Any) -> None:
    class Endless(io.RawIOBase):
        def read(self, size: int = -1) -> bytes:
            raise AssertionError("the body was read")

    response = desk.generic(
        "POST",
        PAGE,
        b"",
        CONTENT_TYPE="multipart/form-data; boundary=x",
        CONTENT_LENGTH=str(100 * 1024 * 1024),
        **{"wsgi.input": Endless()},
    )
    assert response.status_code == 413
    assert b"larger than 8 MB" in response.content


@pytest.mark.parametrize(
    "name", ["../../../etc/cron.d/x", "..\\..\\boot.ini", "/etc/passwd", "a\0b.csv", "x" * 400]
)
def test_a_file_name_is_only_a_word(desk: Any, name: str, tmp_path: Any) -> None:
    response = drop(desk, TABLE, name)
    assert response.status_code in (302, 400)
    for source in Import.objects.all():
        assert "/" not in source.file_name
        assert len(source.file_name) <= 200


@pytest.mark.parametrize(
    "path",
    [
        "/static/../settings.py",
        "/static/..%2f..%2fsettings.py",
        "/static/%2e%2e/keys.json",
        "/day/../../etc/passwd/",
        "/day/2026-11-24%2f..%2f/",
        "/visit/1/sheet/..%2fetc/",
    ],
)
def test_no_path_leads_out(desk: Any, path: str) -> None:
    assert desk.get(path).status_code == 404


def test_what_was_typed_is_shown_as_text_never_as_markup(desk: Any) -> None:
    table = "id,name,born\n<b>x</b>,<script>alert(1)</script>,2026-02-30\n"
    where = drop(desk, table, "<img src=x>.csv").headers["Location"]
    page = desk.get(where).content.decode()
    assert "<script>alert" not in page
    assert "<img src=x" not in page
    desk.post(where, {"cell-2-2": "2026-02-20"})
    child = ChildRecord.objects.get()
    for path in (f"/child/{child.pk}/", "/day/2026-11-24/", "/children/?q=script"):
        assert "<script>alert" not in desk.get(path).content.decode()


def test_mending_a_cell_leaves_the_other_lines_where_they_were() -> None:
    text = 'id;name;born\n1;"two\nlines";x\n2;b;y\n'
    cell = cell_at(text, "r.csv, line 4, column born")
    assert cell is not None
    assert (cell.column, cell.value) == (2, "y")
    assert mend_cell(text, 4, 2, "z") == 'id;name;born\n1;"two\nlines";x\n2;b;z\n'


def test_mending_an_entry_keeps_the_lines_after_it() -> None:
    text = '[{"id": 1,\n "born": 2},\n{"id": 2}]'
    assert mend_entry(text, 1, '{"id": 3}') == '[{"id": 3}\n,\n{"id": 2}]'
