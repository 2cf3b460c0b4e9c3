"""The code sets: what the published list says of some codes, and that all hang together."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest
from tests.shared_files import shared

from traywise.rulebook.codes import CODES, cvx_codes, route_codes, route_key, site_codes
from traywise.rulebook.tables import read_toml

ROOT = Path(__file__).resolve().parents[3]


@pytest.mark.parametrize(
    ("code", "name", "antigens", "live", "route", "unspecified"),
    [  # CDC, CVX code set
        ("03", "MMR", {"measles", "mumps", "rubella"}, True, "SC", False),
        (
            "110",
            "DTaP-HepB-IPV",
            {"diphtheria", "tetanus", "pertussis", "hepB", "polio"},
            False,
            "IM",
            False,
        ),
        ("122", "RV, unspecified formulation", {"rotavirus"}, True, "PO", True),
        ("149", "LAIV4", {"influenza"}, True, "NAS", False),
        (
            "998",
            "No vaccine administered (message placeholder, not a vaccine)",
            set(),
            False,
            "",
            False,
        ),
    ],
)
def test_a_code_says_what_was_given(code, name, antigens, live, route, unspecified):
    entry = cvx_codes()[code]
    assert (name, antigens, live, route, unspecified) == (
        entry.name,
        set(entry.antigens),
        entry.live,
        entry.route,
        entry.unspecified,
    )


def test_each_code_is_two_digits_at_least_and_has_a_known_route_and_status():
    for code, entry in cvx_codes().items():
        assert code == entry.code == code.zfill(2)
        assert code.isdecimal()
        assert entry.route in {*route_codes(), ""}, code
        assert entry.status in {"active", "inactive", "never active", ""}, code


def test_a_status_that_nobody_confirmed_says_so():
    assert "from memory" in cvx_codes()["32"].source
    assert "from memory" not in cvx_codes()["03"].source
    assert cvx_codes()["183"].status == ""


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("IM", "IM"),
        ("c28161", "IM"),
        ("SQ", "SC"),
        ("SC", "SC"),
        ("NASINHLC", "NAS"),
        ("NASINHL", "NAS"),
        ("IDINJ", "ID"),
        (" oral ", "PO"),
        ("", None),
        ("XX", None),
    ],
)
def test_a_route_is_known_by_each_of_its_spellings(text, key):
    assert key == route_key(text)


def test_no_spelling_means_two_routes():
    seen: dict[str, str] = {}
    for row in route_codes().values():
        for spelling in {
            s.casefold() for s in (row.key, row.name, row.v2, row.v3, row.ncit, *row.also) if s
        }:
            assert spelling not in seen, (spelling, row.key)
            seen[spelling] = row.key


def test_each_site_stands_on_a_limb_or_none():
    assert {"LT", "RT", "LA", "RA", ""} == {row.limb for row in site_codes().values()}
    assert site_codes()["LD"].limb == "LA"


def test_the_code_file_loads_fast_enough_for_every_command():
    def once() -> float:
        start = time.perf_counter()
        read_toml(CODES / "cvx.toml")
        return time.perf_counter() - start

    # 5 ms alone; the limit leaves room for a busy machine.
    assert min(once() for _ in range(5)) < 0.03


def test_the_code_file_is_as_generated():
    csv = shared("reference/cvx.csv")
    done = subprocess.run(
        [sys.executable, str(ROOT / "tools/make_codes.py"), str(csv), "--check"],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout
