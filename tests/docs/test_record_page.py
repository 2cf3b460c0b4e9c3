"""``docs/record-and-answer.md`` names every key of the record and the answer, and no other."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import msgspec
import pytest

from traywise.population.batches import CHILDREN
from traywise.record.child import Child, DoseGiven
from traywise.record.read_json import read_children
from traywise.schedule.answer import STATUSES, Answer, GroupForecast
from traywise.schedule.assess import assess
from traywise.tray.plan import Tray

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "record-and-answer.md").read_text("utf-8")


def section(heading: str) -> str:
    return PAGE.partition(f"\n{heading}\n")[2].partition("\n## ")[0]


def keys(text: str) -> set[str]:
    """The keys in the first column of the tables."""
    cells = [line.split("|")[1] for line in text.splitlines() if line.startswith("| `")]
    return {key for cell in cells for key in re.findall(r"`([a-z_]+)`", cell)}


def fields(kind: type[msgspec.Struct]) -> set[str]:
    return {field.encode_name for field in msgspec.structs.fields(kind)}


RECORD, _, DOSE = section("## A child's record").partition("\nA dose:")
ANSWER, _, GROUP = section("## The answer").partition("\nA group:")


@pytest.mark.parametrize(
    ("kind", "text", "more"),
    [
        # A day stands beside its weight; hours are told by the tray, not by the forecast.
        (Child, RECORD, {"weighed_on"}),
        (DoseGiven, DOSE, set()),
        (Answer, ANSWER, set()),
        (GroupForecast, GROUP, {"urgent"}),
        (Tray, section("## The tray"), set()),
    ],
)
def test_the_page_names_every_key(kind: type[msgspec.Struct], text: str, more: set[str]) -> None:
    assert fields(kind) == keys(text) | more


def test_the_page_names_every_status() -> None:
    line = next(line for line in GROUP.splitlines() if line.startswith("| `status`"))
    assert tuple(re.findall(r"`([a-z ]+)`", line)[1:]) == STATUSES


def test_the_page_names_every_column_of_a_population() -> None:
    assert set(CHILDREN.names) <= set(re.findall(r"`(\w+)`", section("## Population files")))


def test_the_smallest_record_is_answered() -> None:
    (line,) = re.findall(r"```json\n(.*)\n```", PAGE)
    result = read_children(line, "child.jsonl")
    assert result.all_faults == ()
    answer = assess(result.children[0], "us-2025", date(2026, 7, 10))
    assert answer.groups["MMR"].next_dose == 2
