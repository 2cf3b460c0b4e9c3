"""The needle policy that was followed stands on the tray, in text and in JSON."""

from __future__ import annotations

from datetime import date

import pytest

from traywise.equipment.tables import policies
from traywise.paper.terminal import tray_text
from traywise.record.child import Child
from traywise.shelf.lot import Lot
from traywise.tray.compose import compose_tray
from traywise.tray.tray_json import visit_object

ON = date(2026, 11, 24)
CHILD = Child(id="invented", born=date(2026, 9, 20))
SHELF = [Lot(lot="H", cvx="08", presentation="prefilled", doses=5, expires=date(2030, 1, 1))]


@pytest.mark.parametrize("policy", sorted(policies()))
def test_the_policy_is_named(policy):
    visit = compose_tray(CHILD, ON, SHELF, policy=policy)
    assert visit_object(visit)["needle_policy"] == policy
    head = tray_text(CHILD, visit.answer, visit.tray, ON).splitlines()[0]
    assert head.endswith(f"needles {policy}")


def test_a_tray_without_doses_names_none():
    visit = compose_tray(CHILD, ON, [])
    assert visit.tray.needle_policy == ""
    assert "needles" not in tray_text(CHILD, visit.answer, visit.tray, ON).splitlines()[0]
