"""Any file by its content: each format finds its reader, and what is none is refused clearly."""

from __future__ import annotations

import os
from datetime import date

import pytest

from traywise.exchange import read_any, read_file

TODAY = date(2026, 11, 24)
FORMS = [
    '{"id": "a", "born": "2026-01-05"}',
    '[{"id": "a", "born": "2026-01-05"}]',
    '{"id": "a", "born": "2026-01-05"}\n\n',
    "id,born\na,2026-01-05\n",
    "id;born\na;2026-01-05\n",
    '{"resourceType": "Patient", "id": "a", "birthDate": "2026-01-05"}',
    '<Patient xmlns="http://hl7.org/fhir"><id value="a"/><birthDate value="2026-01-05"/></Patient>',
]


@pytest.mark.parametrize("text", FORMS)
@pytest.mark.parametrize("name", ["a.txt", "a.json", "a.csv"])
def test_the_content_decides_and_not_the_name(tmp_path, text, name):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8-sig")
    (child,) = read_file(path, today=TODAY).children
    assert (child.id, child.born) == ("a", date(2026, 1, 5))


def test_content_at_hand_is_read_likewise():
    assert {read_any(text, "f", today=TODAY).children[0].id for text in FORMS} == {"a"}


def test_a_note_that_speaks_of_fhir_does_not_make_a_record_fhir():
    text = '{"id": "a", "born": "2026-01-05", "name": "resourceType \\"resourceType\\""}'
    assert len(read_any(text, "f", today=TODAY).children) == 1


def test_a_file_that_is_not_there_is_a_fault(tmp_path):
    for path in (tmp_path / "none.json", tmp_path):
        assert [f.code for f in read_file(path).all_faults] == ["exchange.E301"]


def test_the_size_is_limited_and_the_limit_itself_is_allowed(tmp_path):
    path = tmp_path / "a.json"
    path.write_text(FORMS[0])
    size = os.path.getsize(path)
    assert read_file(path, today=TODAY, largest_bytes=size).children
    found = read_file(path, today=TODAY, largest_bytes=size - 1)
    assert [fault.code for fault in found.all_faults] == ["exchange.E302"]


@pytest.mark.parametrize(
    "data", [b"PK\x03\x04abc", b"\x1f\x8babc", b"%PDF-1.7", b"PAR1abc", bytes(range(256)) * 4]
)
def test_what_is_no_record_is_refused(data):
    result = read_any(data, "f")
    assert result.children == ()
    assert result.all_faults
