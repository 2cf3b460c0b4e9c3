"""``within_before_event``: refused where nothing can be counted, told in words where it can."""

from __future__ import annotations

from pathlib import Path

import pytest

from traywise.rulebook.check_files import check_files

OVERLAY = """
[overlay]
key = "our-clinic"
title = "Doses near an event (invented)"
publisher = "invented"
published = "2026-06-01"
on = ["us-2025"]

[[add]]
group = "Hib"
key = "Hib-near"
after = 0
when.doses = [{{ {rule}, at_most = 0 }}]
{event}
source = "our-clinic, invented"
"""
DURING = 'event = { of = ["wound-other"], time = "during" }'
AFTER = 'event = { of = ["wound-other"], time = "after" }'
UNKNOWN = 'event = { of = ["wound-other"], time = "unknown" }'
NEAR = 'within_before_event = "5 years"'


def told(tmp_path: Path, rule: str, event: str) -> list[tuple[str, str]]:
    path = tmp_path / "our-clinic.toml"
    path.write_text(OVERLAY.format(rule=rule, event=event), encoding="utf-8")
    return [(fault.code, fault.text) for fault in check_files(path)[1]]


@pytest.mark.parametrize("event", [DURING, AFTER])
@pytest.mark.parametrize("rule", [NEAR, 'within_before_event = "1 day"', "since_event = true"])
def test_doses_near_an_event_with_its_day_can_be_counted(tmp_path: Path, rule: str, event: str):
    assert told(tmp_path, rule, event) == []


@pytest.mark.parametrize(
    ("rule", "event", "said"),
    [
        (NEAR, "", "within_before_event needs an event with its day"),
        (NEAR, UNKNOWN, "within_before_event needs an event with its day"),
        ("since_event = true", "", "since_event needs an event with its day"),
        ("since_event = true", UNKNOWN, "since_event needs an event with its day"),
        ('within_before_event = "0 days"', DURING, "within_before_event is no time at all"),
        (f"{NEAR}, since_event = true", DURING, "and since_event contradict each other"),
        (f"{NEAR}, before_season = true", DURING, "and before_season contradict each other"),
        (f"{NEAR}, given = true", DURING, "and given contradict each other"),
    ],
)
def test_what_cannot_be_counted_is_refused(tmp_path: Path, rule: str, event: str, said: str):
    ((code, text),) = told(tmp_path, rule, event)
    assert code == "rulebook.E037"
    assert said in text


def test_a_span_that_is_none_is_refused(tmp_path: Path):
    (fault,) = told(tmp_path, 'within_before_event = "5 springs"', DURING)
    assert "5 springs" in fault[1]
