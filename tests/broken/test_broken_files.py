"""One broken file for each fault code: the code is told, its place is named, nothing is raised."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from traywise.exchange import read_file
from traywise.exchange.fault_codes import FAULTS as EXCHANGE
from traywise.exchange.gs1 import read_scan
from traywise.record.fault_codes import FAULTS as RECORD

HERE = Path(__file__).parent
SOURCE = HERE.parents[1] / "src" / "traywise"
TODAY = date(2026, 11, 24)

FILES = [
    path
    for room in ("record", "exchange")
    for path in sorted((HERE / room).iterdir())
    if not path.stem.endswith(".doses")
]

SCANS = {
    "exchange.E201": "]d2",
    "exchange.E202": "99ABC",
    "exchange.E203": "010034928158905",
    "exchange.E204": "0100349281589059",
    "exchange.E205": "17281301",
    "exchange.E206": "10A\x1d10B",
    "exchange.E208": "]d10100349281589058",
    "exchange.W207": "010034928158905810U4275AA17281028",
}
# Met by the file system alone; see test_read_any.py.
WITHOUT_A_FILE = {"exchange.E301", "exchange.E302"}


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}.{path.stem}")
def test_a_broken_file_is_told_by_its_code(path: Path):
    second = path.with_name(f"{path.stem}.doses.csv")
    result = read_file(path, doses=second if second.exists() else None, today=TODAY)
    code = f"{path.parent.name}.{path.stem}"
    found = {fault.code: fault for fault in result.all_faults}
    assert code in found, sorted(found)
    assert path.stem in found[code].at
    others = {other for other in found if other != code and ".E" in other}
    assert not others, "a broken file has one error"


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}.{path.stem}")
def test_an_error_sets_the_child_aside_and_a_warning_does_not(path: Path):
    second = path.with_name(f"{path.stem}.doses.csv")
    result = read_file(path, doses=second if second.exists() else None, today=TODAY)
    for entry in result.entries:
        assert (entry.child is None) == any(fault.is_error for fault in entry.faults)
    if path.stem.startswith("W"):
        assert len(result.children) == 1


@pytest.mark.parametrize(("code", "scan"), SCANS.items())
def test_a_broken_scan_is_told_by_its_code(code: str, scan: str):
    assert [fault.code for fault in read_scan(scan, today=TODAY).faults] == [code]


@pytest.mark.parametrize(("room", "known"), [("record", RECORD), ("exchange", EXCHANGE)])
def test_each_code_of_the_source_is_listed_and_each_listed_one_is_used(room, known):
    text = "".join(
        path.read_text(encoding="utf-8")
        for folder in ("record", "exchange")
        for path in (SOURCE / folder).rglob("*.py")
        if path.name != "fault_codes.py"
    )
    assert set(re.findall(rf'"({room}\.[EW]\d{{3}})"', text)) == set(known)


def test_each_code_has_its_broken_file():
    here = {f"{path.parent.name}.{path.stem}" for path in FILES}
    assert here | set(SCANS) | WITHOUT_A_FILE == set(RECORD) | set(EXCHANGE)


def test_each_text_says_what_to_do():
    for code, (meaning, remedy) in {**RECORD, **EXCHANGE}.items():
        assert meaning.endswith("."), code
        assert remedy.endswith("."), code
