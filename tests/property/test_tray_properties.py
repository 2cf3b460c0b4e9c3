"""What must hold of every tray, for any child of 0 to 18 years and any shelf.

Sources of the rules: ACIP, General Best Practice Guidelines (needle and site table,
spacing of injections, live vaccines); contract of the program for the rest.
"""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.property.test_schedule_properties import children

from traywise.calendar import add
from traywise.record.child import Child
from traywise.rulebook.vaccines import vaccines
from traywise.shelf.lot import Lot
from traywise.tray.compose import Visit, compose_tray

FAST = settings(max_examples=40, deadline=None)
LONG_KEPT = date(2080, 1, 1)


def any_shelf() -> list[Lot]:
    """One lot of every product, in its first presentation."""
    return [
        Lot(
            lot=f"L{number:03}",
            cvx=vaccine.cvx[0],
            presentation=vaccine.presentations[0],
            doses=2,
            expires=LONG_KEPT,
            vaccine=vaccine.key,
        )
        for number, vaccine in enumerate(vaccines().values())
    ]


SHELF = any_shelf()
SHELVES = st.lists(st.sampled_from(range(len(SHELF))), min_size=0, max_size=25, unique=True)


def compose(record: Child, on: date, numbers: list[int]) -> Visit:
    return compose_tray(record, on, [SHELF[number] for number in numbers])


@FAST
@given(children(most_doses=5), SHELVES)
def test_every_place_is_due_licensed_and_in_stock(
    case: tuple[Child, date], numbers: list[int]
) -> None:
    record, on = case
    visit = compose(record, on, numbers)
    used = Counter(place.lot for place in visit.tray.tray)
    for place in visit.tray.tray:
        vaccine = vaccines()[place.vaccine]
        lot = next(lot for lot in SHELF if lot.lot == place.lot)
        assert add(record.born, vaccine.age_from) <= on or vaccine.key in str(
            [visit.answer.groups[group].products for group in place.groups]
        )
        assert used[place.lot] <= lot.doses
        assert place.expires is not None
        assert place.expires >= on
        assert set(place.dose_numbers) <= set(place.groups)
        due = [visit.answer.groups[g].status for g in place.groups if g in place.dose_numbers]
        assert set(due) <= {"due", "overdue"}


@FAST
@given(children(most_doses=5), SHELVES)
def test_no_group_is_given_twice_and_what_is_due_is_given_or_explained(
    case: tuple[Child, date], numbers: list[int]
) -> None:
    record, on = case
    visit = compose(record, on, numbers)
    by_dose = {(place.lot, place.vaccine): place.groups for place in visit.tray.tray}
    groups = Counter(group for groups in by_dose.values() for group in groups)
    assert max(groups.values(), default=0) <= 1
    explained = {item.group for item in visit.tray.not_today}
    for group, one in visit.answer.groups.items():
        if one.status in ("due", "overdue"):
            assert group in groups or group in explained, group
    assert all(item.why and (item.source or item.would_serve) for item in visit.tray.not_today)


@FAST
@given(children(most_doses=5), SHELVES)
def test_places_are_numbered_apart_and_have_a_listed_needle(
    case: tuple[Child, date], numbers: list[int]
) -> None:
    record, on = case
    places = compose(record, on, numbers).tray.tray
    assert [place.n for place in places] == list(range(1, len(places) + 1))
    spots = [(place.site, place.position) for place in places if place.site]
    assert len(set(spots)) == len(spots)
    oral = [place.n for place in places if place.route == "PO"]
    injected = [place.n for place in places if place.site]
    assert not oral or not injected or max(oral) < min(injected)
    for place in places:
        assert place.why
        assert place.source
        if place.site:
            assert place.needle in place.needle_choices
            assert place.angle_deg in (10, 15, 45, 90)
        if place.site in ("LD", "RD"):
            # Under 12 months the deltoid takes no injection into muscle.
            assert add(record.born, vaccines()["MMR"].age_from) <= on


@FAST
@given(children(most_doses=6), SHELVES, st.randoms())
def test_the_order_of_entries_changes_no_tray(
    case: tuple[Child, date], numbers: list[int], random: object
) -> None:
    record, on = case
    doses, lots = list(record.doses), list(numbers)
    random.shuffle(doses)  # type: ignore[attr-defined]
    random.shuffle(lots)  # type: ignore[attr-defined]
    shuffled = msgspec.structs.replace(record, doses=tuple(doses))
    assert compose(record, on, numbers).tray == compose(shuffled, on, lots).tray


@settings(max_examples=30, deadline=None)
@given(children(most_doses=5))
def test_moving_everything_by_28_years_moves_no_place(case: tuple[Child, date]) -> None:
    """Influenza, COVID-19 and RSV follow the calendar; OPV counts by its date: left out."""
    record, on = case
    tied = {"Flu", "COVID", "RSV"}
    shelf = [lot for lot in SHELF if lot.product and not tied & set(lot.product.groups)]
    record = msgspec.structs.replace(
        record, doses=tuple(dose for dose in record.doses if dose.cvx != "02")
    )
    shift = timedelta(days=10_227)
    there = msgspec.structs.replace(
        record,
        born=record.born + shift,
        doses=tuple(msgspec.structs.replace(dose, on=dose.on + shift) for dose in record.doses),
        products=tuple(
            msgspec.structs.replace(item, on=item.on + shift) for item in record.products
        ),
        conditions=tuple(
            msgspec.structs.replace(
                one,
                since=one.since + shift if one.since else None,
                until=one.until + shift if one.until else None,
            )
            for one in record.conditions
        ),
    )
    here = compose_tray(record, on, shelf).tray.tray
    then = compose_tray(there, on + shift, shelf).tray.tray
    assert [(place.vaccine, place.site, place.needle, place.position) for place in here] == [
        (place.vaccine, place.site, place.needle, place.position) for place in then
    ]
