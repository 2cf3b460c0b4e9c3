"""Opened vials to the hour; unopened lots to the day."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import msgspec
import pytest

from traywise.rulebook.vaccines import vaccines
from traywise.shelf.discard import discard_time
from traywise.shelf.lot import Lot
from traywise.shelf.usable import why_not_usable

OPENED = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
DAY = date(2026, 11, 24)
FAR = date(2027, 12, 31)


# Immunize.org, Vaccines with Diluents; WHO/IVB/14.07; Immunize.org, Storage & Handling, 2023.
@pytest.mark.parametrize(
    ("key", "presentation", "keeps"),
    [
        ("VAR", "vial+diluent", timedelta(minutes=30)),  # check 21: 31 min refused
        ("MMR", "vial+diluent", timedelta(hours=8)),  # check 22: 8 h 1 min refused
        ("MenABCWY-TT-FHbp", "vial+diluent", timedelta(hours=4)),
        ("YF", "vial+diluent", timedelta(minutes=60)),
        ("BCG", "multidose", timedelta(hours=6)),
        ("MR", "multidose", timedelta(hours=6)),
        ("IIV3-multidose", "multidose", timedelta(days=28)),
        ("bOPV", "multidose", timedelta(days=28)),
    ],
)
def test_opened_vials_end_on_the_minute(key: str, presentation: str, keeps: timedelta):
    vaccine = vaccines()[key]
    end = discard_time(vaccine, presentation, OPENED, FAR, zone=UTC)
    assert end.at == OPENED + keeps
    lot = Lot(
        lot="V1", cvx=vaccine.cvx[0], vaccine=key, presentation=presentation, doses=3,
        expires=FAR, opened_at=OPENED,
    )  # fmt: skip
    last = end.at - timedelta(minutes=1)
    assert why_not_usable(lot, last.date(), last, UTC) is None
    assert "discard time" in (why_not_usable(lot, end.at.date(), end.at, UTC) or "")


def test_a_vial_without_limit_keeps_to_its_expiry_and_never_beyond():
    ipv, flu = vaccines()["IPV"], vaccines()["IIV3-multidose"]
    assert discard_time(ipv, "multidose", OPENED, FAR, zone=UTC).at.date() == date(2028, 1, 1)
    soon = discard_time(flu, "multidose", OPENED, DAY, zone=UTC)
    assert soon.at == datetime(2026, 11, 25, tzinfo=UTC)


def test_a_mixed_programme_vial_ends_with_the_session():
    end = OPENED + timedelta(hours=2)
    mr, penta = vaccines()["MR"], vaccines()["DTwP-HepB-Hib"]
    assert discard_time(mr, "multidose", OPENED, FAR, session_end=end, zone=UTC).at == end
    assert discard_time(penta, "multidose", OPENED, FAR, session_end=end, zone=UTC).at > end


LOT = Lot(lot="A1", cvx="08", presentation="prefilled", doses=1, expires=DAY)


@pytest.mark.parametrize(
    ("change", "on", "why"),
    [
        ({}, DAY, None),
        ({}, DAY + timedelta(days=1), "expired"),
        ({"doses": 0}, DAY, "empty"),
        ({"held": "in quarantine: fridge alarm"}, DAY, "quarantine"),
        ({"expires": None}, DAY, "not recorded"),
    ],
)
def test_reasons_why_a_lot_may_not_be_used(change, on, why):
    found = why_not_usable(msgspec.structs.replace(LOT, **change), on, None, UTC)
    assert (found is None) if why is None else why in (found or "")


def test_without_an_hour_an_opened_vial_must_last_the_day():
    vial = msgspec.structs.replace(
        LOT, expires=FAR, opened_at=OPENED, discard_at=OPENED + timedelta(hours=6)
    )
    assert "say the hour" in (why_not_usable(vial, DAY, None, UTC) or "")
    assert why_not_usable(vial, DAY, OPENED + timedelta(hours=5), UTC) is None
    assert "past" in (why_not_usable(vial, DAY + timedelta(days=1), None, UTC) or "")
