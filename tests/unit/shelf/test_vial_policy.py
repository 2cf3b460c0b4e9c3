"""WHO multi-dose vial policy, revision 2014 (WHO/IVB/14.07): kept only if all is known to hold."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from traywise.rulebook.vaccines import vaccines
from traywise.rulebook.vial_policy import keep_conditions
from traywise.shelf.vial_policy import keep_vial

OPENED = datetime(2026, 11, 24, 8, 0, tzinfo=UTC)
EXPIRES = date(2027, 6, 30)
ALL = {condition.key: True for condition in keep_conditions()}


def keep(key: str, known, session_hours: int = 4):
    end = OPENED + timedelta(hours=session_hours)
    return keep_vial(vaccines()[key], "multidose", OPENED, EXPIRES, end, known, UTC)


@pytest.mark.parametrize("key", ["bOPV", "DTwP-HepB-Hib", "fIPV"])
def test_liquid_vials_keep_28_days_when_every_condition_holds(key: str):
    found = keep(key, ALL)
    assert found.kept
    assert found.until.at == OPENED + timedelta(days=28)


@pytest.mark.parametrize("missing", list(ALL))
@pytest.mark.parametrize("value", [False, None])
def test_one_condition_that_fails_or_is_unknown_ends_the_vial(missing: str, value):
    found = keep("bOPV", {**ALL, missing: value})
    assert not found.kept
    assert found.until.at == OPENED + timedelta(hours=4)  # the session ends first
    named = found.failing if value is False else found.unknown
    assert [condition.key for condition in named] == [missing]
    assert keep("bOPV", {**ALL, missing: value}, 9).until.at == OPENED + timedelta(hours=6)


@pytest.mark.parametrize("key", ["BCG", "MR", "YF-WHO"])
def test_a_mixed_powder_is_never_kept(key: str):
    assert not keep(key, ALL).kept
    assert keep(key, ALL, 9).until.at == OPENED + timedelta(hours=6)
