"""The list of what must lie ready: everything once, with the right count."""

from __future__ import annotations

from tests.unit.equipment.visits import child_of, dose, equip_many

from traywise.equipment import SupplyOnHand, equip, what_lies_ready


def counts(layout):
    return {
        (line.item, line.gauge, line.length_mm, line.volume_ml): line.count
        for line in what_lies_ready(layout)
    }


def test_a_two_month_visit():
    layout = equip_many("2 months", ["RV1", "DTaP-HepB-IPV", "Hib-PRP-T", "PCV20"])
    assert counts(layout) == {
        ("needle", 25, 25, None): 3,
        ("syringe", None, None, 3.0): 1,
        ("wipe", None, None, None): 3,
        ("bandage", None, None, None): 3,
        ("label", None, None, None): 3,
        ("sharps-container", None, None, None): 1,
    }


def test_only_by_mouth_nothing_sharp_lies_ready():
    assert what_lies_ready(equip_many("2 months", ["RV1"])) == ()


def test_what_is_missing_is_counted_too():
    child, on = child_of("2 months")
    layout = equip(child, on, [dose("PCV20")], [])
    assert counts(layout)["needle", 25, 25, None] == 1


def test_one_piece_sets_ampoules_and_mixing():
    child, on = child_of("5 years")
    supplies = [SupplyOnHand(item="needle+syringe", gauge=25, length_mm=25, volume_ml=1.0, count=1)]
    assert (
        counts(equip(child, on, [dose("HepA", presentation="vial")], supplies))[
            "needle+syringe", 25, 25, 1.0
        ]
        == 1
    )
    bcg = counts(equip(*child_of("1 day"), [dose("BCG", presentation="ampoule", volume_ml=0.05)]))
    assert bcg["filter-needle", None, None, None] == 1
    assert bcg["mixing-syringe", None, None, None] == 1
