"""The contract's shapes, written down a second time and held against varied real outputs.

Nothing of the program is imported but its command line: keys, types and meanings are
those that contract.md states for the answer, the tray, the shelf, reach and populations.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Callable, Iterable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from traywise.cli import main
from traywise.demo.load import demo_files

Item = dict[str, Any]
ON = "2026-11-24"
GROUPS = (
    *("HepB", "RV", "DTaP", "Hib", "PCV", "IPV", "Flu", "COVID", "MMR", "VAR", "HepA", "HPV"),
    *("MenACWY", "MenB", "RSV", "PPSV", "Dengue"),
)
OPEN = ("due", "overdue", "not yet")
STATUSES = {
    *OPEN,
    *("complete", "immune", "contraindicated", "deferred", "aged out", "clinician decides"),
    "not recommended",
}
SITES = {"LT", "RT", "LD", "RD", "LA", "RA", "LVL", "RVL", "LLFA", "RLFA", "LG", "RG"}
SUPPLIES = {
    *("needle", "syringe", "needle+syringe", "wipe", "bandage", "label", "sharps-container"),
    *("gloves", "diluent"),
}
PRESENTATIONS = {"prefilled", "vial", "vial+diluent", "multidose", "oral", "spray", "ampoule"}
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def run(*arguments: object, text: str | None = None) -> str:
    result = CliRunner().invoke(main, [str(one) for one in arguments], input=text)
    assert result.exit_code == 0, result.output
    return result.stdout


def is_day(value: Any) -> bool:
    return (
        isinstance(value, str) and bool(_DAY.fullmatch(value)) and bool(date.fromisoformat(value))
    )


def is_text(value: Any) -> bool:
    return isinstance(value, str) and bool(value.strip())


def texts(value: Any) -> bool:
    return isinstance(value, list) and all(is_text(one) for one in value)


def need(item: Item, checks: dict[str, Callable[[Any], bool]], where: str) -> None:
    """Every key is there and its value passes; ``where`` is shown when not."""
    for key, check in checks.items():
        assert key in item, f"{where}: {key} is missing"
        assert check(item[key]), f"{where}: {key} = {item[key]!r}"


def or_null(check: Callable[[Any], bool]) -> Callable[[Any], bool]:
    return lambda value: value is None or check(value)


def check_answer(answer: Item, record: Item, edition: str = "us-2025") -> None:
    """The answer to a record: as asked, every dose in order, every group of the contract."""
    assert (answer["id"], answer["assess_on"], answer["edition"]) == (record["id"], ON, edition)
    given = record.get("doses", [])
    assert [(one["on"], one["cvx"]) for one in answer["doses"]] == [
        (one["on"], one["cvx"]) for one in given
    ]
    for dose in answer["doses"]:
        for group, verdict in dose["groups"].items():
            where = f"{answer['id']} {dose['on']} {dose['cvx']} {group}"
            need(
                verdict,
                {
                    "status": lambda v: v in ("valid", "not valid", "extra"),
                    "reason": or_null(is_text),
                    "row": lambda v: isinstance(v, str),
                    "source": is_text,
                },
                where,
            )
            assert verdict["status"] == "valid" or verdict["reason"], where
    if edition == "us-2025":
        assert set(answer["groups"]) == set(GROUPS)
    for group, one in answer["groups"].items():
        check_group(one, f"{answer['id']} {group}")
    check_faults(answer)


def check_group(one: Item, where: str) -> None:
    days = ("earliest", "due", "overdue", "latest")
    need(
        one,
        {
            "status": lambda v: v in STATUSES,
            "next_dose": or_null(lambda v: isinstance(v, int) and v >= 1),
            **{day: or_null(is_day) for day in days},
            "row": lambda v: isinstance(v, str),
            "why": is_text,
            "source": is_text,
        },
        where,
    )
    known = [one[day] for day in days[:3] if one[day] is not None]
    assert known == sorted(known), f"{where}: earliest, due, overdue {known}"
    if one["status"] in OPEN:
        assert one["next_dose"] is not None, where
        assert one["earliest"], where
        assert one["due"], where
        late = one["overdue"] is not None and one["overdue"] <= ON
        found = "not yet" if one["due"] > ON else "overdue" if late else "due"
        assert one["status"] == found, f"{where}: {one['status']} with due {one['due']}"
    if one["latest"] is not None and one["earliest"] is not None:
        assert one["latest"] >= one["earliest"], where


def check_faults(answer: Item) -> None:
    for kind in ("errors", "warnings"):
        for fault in answer[kind]:
            assert set(fault) == {"code", "at", "text"}
            assert all(is_text(value) for value in fault.values())
            assert fault["code"].split(".")[1].startswith("E") == (kind == "errors")


def check_tray(visit: Item, lots: dict[str, list[Item]]) -> None:
    """Places in order, each with a lot of the shelf; whatever is due lies there or says why not."""
    assert [place["n"] for place in visit["tray"]] == list(range(1, len(visit["tray"]) + 1))
    for place in visit["tray"]:
        check_place(place, f"{visit['id']} place {place['n']}", lots)
    served = [group for place in visit["tray"] for group in place["groups"]]
    refused = [item["group"] for item in visit["not_today"]]
    assert len(served) == len(set(served)), f"{visit['id']}: {served}"
    assert not set(served) & set(refused), visit["id"]
    due = {group for group, one in visit["groups"].items() if one["status"] in ("due", "overdue")}
    assert due <= {*served, *refused}, f"{visit['id']}: {due - {*served, *refused}} is passed over"
    for item in visit["not_today"]:
        need(
            item,
            {"group": is_text, "why": is_text, "until": or_null(is_day), "source": or_null(is_str)},
            visit["id"],
        )
    for question in visit["questions"]:
        need(question, {"key": is_text, "text": is_text, "groups": texts}, visit["id"])
    check_supplies(visit["supplies"], visit["id"])
    assert texts(visit["cautions"])


def is_str(value: Any) -> bool:
    return isinstance(value, str)


def check_place(place: Item, where: str, lots: dict[str, list[Item]]) -> None:
    injected = place["route"] in ("IM", "SC", "ID")
    need(
        place,
        {
            "cvx": is_text,
            "lot": lambda v: v in lots,
            "groups": lambda v: texts(v) and bool(v),
            "route": lambda v: v in ("IM", "SC", "PO", "NAS", "ID"),
            "volume_ml": lambda v: isinstance(v, int | float) and 0 < v < 10,
            "site": lambda v: v in SITES if injected else v is None,
            "position": lambda v: v in ("upper", "lower", None),
            "needle": lambda v: (v is not None) == injected,
            "angle_deg": lambda v: v in range(1, 91) if injected else v is None,
            "technique": is_str,
            "syringe": is_text,
            "steps": lambda v: texts(v) and bool(v),
            "why": lambda v: texts(v) and bool(v),
            "source": lambda v: texts(v) and bool(v),
        },
        where,
    )
    if injected:
        need(
            place["needle"],
            {"gauge": lambda v: 18 <= v <= 30, "length_mm": lambda v: 10 <= v <= 60},
            where,
        )
    assert any(line["cvx"].zfill(2) == place["cvx"] for line in lots[place["lot"]]), where
    assert all(line["presentation"] in PRESENTATIONS for line in lots[place["lot"]]), where


def check_supplies(supplies: Iterable[Item], where: str) -> None:
    for line in supplies:
        item = line["item"]
        assert item in SUPPLIES or "diluent" in item, f"{where}: {item}"
        assert isinstance(line["count"], int), where
        assert line["count"] > 0, where
        if item == "needle":
            assert line["gauge"], where
            assert line["length_mm"], where


def shelf_lots() -> dict[str, list[Item]]:
    lots: dict[str, list[Item]] = {}
    for line in csv.DictReader(io.StringIO(demo_files()["shelf"].read_text())):
        lots.setdefault(line["lot"], []).append(line)
    return lots


def demo_records() -> list[Item]:
    return [json.loads(line) for line in demo_files()["roster"].read_text().splitlines()]


def invented_records(folder: Path) -> tuple[Path, list[Item]]:
    """Two hundred invented children as a population file and as records."""
    parquet = pytest.importorskip("pyarrow.parquet")
    path = folder / "children.parquet"
    run("population", "make", 200, path, "--seed", 7, "--on", ON)
    records = [
        {
            "id": row["id"],
            "born": str(row["born"]),
            "sex": row["sex"],
            "gestation_weeks": row["gestation_weeks"],
            "birth_weight_g": row["birth_weight_g"],
            "conditions": row["conditions"] or [],
            "doses": [
                {"on": str(on), "cvx": f"{cvx:02}"}
                for on, cvx in zip(row["dose_on"], row["dose_cvx"], strict=True)
            ],
        }
        for row in parquet.read_table(path).to_pylist()
    ]
    return path, records


def test_the_demo_children_get_the_contract_s_answer_tray_and_session():
    lots, records = shelf_lots(), demo_records()
    files = demo_files()
    more = ("--shelf", files["shelf"], "--supplies", files["supplies"], "--on", ON, "--json")
    answers = run("forecast", files["roster"], "--on", ON).splitlines()
    for line, record in zip(answers, records, strict=True):
        check_answer(json.loads(line), record)
    for record in records[2:8]:
        visit = json.loads(run("tray", "-", *more, text=json.dumps(record)))
        check_answer(visit, record)
        check_tray(visit, lots)
    plan = json.loads(run("session", files["roster"], *more))
    used = Counter(p["lot"] for visit in plan["children"] for p in visit["tray"])
    for visit, record in zip(plan["children"], records, strict=True):
        check_answer(visit, record)
        check_tray(visit, lots)
    for lot, count in used.items():
        assert count <= sum(int(line["doses"]) for line in lots[lot]), f"{lot} given {count} times"


def test_invented_children_get_the_contract_s_answer_alone_and_in_a_population(tmp_path: Path):
    population, records = invented_records(tmp_path)
    text = "\n".join(json.dumps(record) for record in records)
    answers = [
        json.loads(line) for line in run("forecast", "-", "--on", ON, text=text).split("\n")[:-1]
    ]
    for answer, record in zip(answers, records, strict=True):
        check_answer(answer, record)
    lots = shelf_lots()
    for record in records[::25]:
        shelf = demo_files()["shelf"]
        visit = json.loads(
            run("tray", "-", "--shelf", shelf, "--on", ON, "--json", text=json.dumps(record))
        )
        check_answer(visit, record)
        check_tray(visit, lots)
    check_population(population, tmp_path / "answers.parquet", answers)


def check_population(children: Path, out: Path, answers: list[Item]) -> None:
    """Types of the columns in and out, and the same answers as one child at a time."""
    import pyarrow.parquet as parquet

    run("population", "forecast", children, out, "--on", ON)
    types = {field.name: str(field.type) for field in parquet.read_schema(children)}
    assert types["id"] == "string"
    assert types["born"] == "date32[day]"
    assert types["sex"].startswith("dictionary<values=string")
    assert types["gestation_weeks"] == "uint8"
    assert types["dose_on"] == "list<element: date32[day]>"
    assert types["dose_cvx"] in ("list<element: uint16>",) or "dictionary" in types["dose_cvx"]
    assert "dictionary<values=string" in types["conditions"]
    table = parquet.read_table(out)
    types = {field.name: str(field.type) for field in table.schema}
    for group in GROUPS:
        assert types[f"{group}_status"].startswith("dictionary<values=string")
        assert types[f"{group}_next_dose"] == "uint8"
        assert {types[f"{group}_{day}"] for day in ("earliest", "due", "overdue")} == {
            "date32[day]"
        }
    for row, answer in zip(table.to_pylist(), answers, strict=True):
        assert row["id"] == answer["id"]
        for group, one in answer["groups"].items():
            found = {
                key: row[f"{group}_{key}"]
                if key in ("status", "next_dose")
                else day_text(row, group, key)
                for key in ("status", "next_dose", "earliest", "due", "overdue")
            }
            assert found == {key: one[key] for key in found}, f"{row['id']} {group}"


def day_text(row: Item, group: str, key: str) -> str | None:
    day = row[f"{group}_{key}"]
    return None if day is None else str(day)


@pytest.mark.parametrize("site", ["thigh", "deltoid"])
@pytest.mark.parametrize("months", [0, 4, 18, 60, 150, 220])
@pytest.mark.parametrize("mm", [16, 25, 38])
def test_reach_gives_shares_with_their_range_or_says_none(site: str, months: int, mm: int):
    said = json.loads(
        run("reach", "--site", site, "--age-months", months, "--length-mm", mm, "--json")
    )
    shares = [said.get(key) for key in ("short", "in_muscle", "bone_depth")]
    if said["evidence"] == "none":
        assert shares == [None] * 3
        return
    assert texts([study["study"] for study in said["studies"]])
    assert any(share is not None for share in shares)
    for share in shares:
        if share is not None:
            assert set(share) >= {"low", "mid", "high"}
            assert 0 <= share["low"] <= share["mid"] <= share["high"] <= 1
