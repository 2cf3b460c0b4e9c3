"""What the steps use lies ready: filter needle, mixing syringe, multiple-puncture device.

Common practice for the ampoule (administration.md 3.1); one new mixing syringe a vial after
the WHO equipment tables (administration.md 3.1).
"""

from __future__ import annotations

from datetime import date

import pytest
from tests.unit.equipment.visits import child_of, dose

from traywise.equipment import equip
from traywise.equipment.tables import step_rows
from traywise.rulebook.visit import visit_supplies
from traywise.tray.plan import Place
from traywise.tray.supplies import supplies_of, supplies_together

MIXING = "mixing syringe with needle, one for each newly opened vial"


def supplies(doses, policy="acip-2024", age="5 years"):
    """Supplies of a visit with these doses, each of its own lot."""
    child, on = child_of(age)
    spots = equip(child, on, doses, policy=policy).places
    places = [
        Place(
            n=n,
            cvx=spot.what.vaccine.cvx[0],
            vaccine=spot.what.vaccine.key,
            name=spot.what.vaccine.name,
            lot=spot.what.lot,
            expires=date(2030, 1, 1),
            presentation=spot.what.presentation,
            groups=spot.what.groups,
            route=spot.route,
            volume_ml=spot.what.volume_ml,
            site=spot.site,
            site_text=spot.site_text,
            needle=None,
            angle_deg=spot.angle_deg,
        )
        for n, spot in enumerate(spots, start=1)
    ]
    return supplies_of(places, spots)


def counts(laid):
    return {item.item: item.count for item in laid}


def test_every_need_of_a_step_is_an_item():
    asked = {key for row in step_rows() for key in row.needs}
    rows = {row.key: row.per for row in visit_supplies()}
    assert asked == {key for key, per in rows.items() if per in ("step", "vial")}


@pytest.mark.parametrize(
    ("key", "presentation", "policy", "filters", "mixing"),
    [
        ("HepA", "ampoule", "acip-2024", 1, 0),
        ("HepA", "vial", "acip-2024", 0, 0),  # vials need no filter
        ("MMR", "vial+diluent", "acip-2024", 0, 0),  # the giving needle mixes
        ("BCG", "multidose", "acip-2024", 0, 1),
        ("BCG", "ampoule", "acip-2024", 1, 1),
        ("BCG", "ampoule", "who-programme", 0, 1),  # the needle is fixed on its syringe
        ("HepA", "prefilled", "acip-2024", 0, 0),
    ],
)
def test_filter_needle_and_mixing_syringe_where_the_steps_use_them(
    key, presentation, policy, filters, mixing
):
    laid = counts(supplies([dose(key, presentation=presentation)], policy))
    assert (laid.get("filter-needle", 0), laid.get(MIXING, 0)) == (filters, mixing)


def test_two_ampoules_take_two_filter_needles_but_a_room_needs_one_mixing_syringe_a_vial():
    two = supplies([dose(key, presentation="ampoule", lot=key) for key in ("HepA", "HepB")])
    assert counts(two)["filter-needle"] == 2
    one = supplies([dose("BCG", presentation="ampoule", lot="B")])
    room = counts(supplies_together([one, one, two]))
    assert (room["filter-needle"], room[MIXING]) == (4, 1)


def test_a_multiple_puncture_lays_device_wipe_and_bandage_and_no_needle():
    laid = counts(supplies([dose("BCG-percutaneous", volume_ml=0.3)]))
    assert laid["multiple-puncture-device"] == laid["wipe"] == laid["bandage"] == 1
    assert laid["syringe"] == 1
    assert "needle" not in laid
