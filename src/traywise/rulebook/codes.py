"""Code sets of the records: vaccine codes (CVX), routes and sites, from ``editions/codes``.

Which product a code means, which antigens it holds, whether it is live. What a
product needs on a tray stands in ``tables/vaccines.toml``; what a dose counts for
is the schedule's business. The CVX file is a line a code rather than a table a
code, because it is quicker to read so.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import msgspec

from traywise.errors import Fault, RulebookError
from traywise.rulebook.kept import kept
from traywise.rulebook.tables import EDITIONS, check_source, load_rows, place, read_toml

CODES = EDITIONS / "codes"


class CvxEntry(msgspec.Struct, frozen=True, array_like=True):
    """One code of the CVX set.

    antigens     keys such as "hepB", "menA"; empty for globulins, tests and placeholders
    route        default: IM, SC, PO, NAS, ID, IV, PC; "" where there is none
    status       active, inactive, never active; "" where it is not known
    unspecified  names a disease group but no product
    """

    code: str
    name: str
    antigens: tuple[str, ...]
    live: bool
    route: str
    status: str
    unspecified: bool
    source: str


class RouteCode(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A route: our key, the standards' codes ("" where none is confirmed), other spellings."""

    key: str
    name: str
    v2: str
    v3: str
    ncit: str
    also: tuple[str, ...]
    source: str


class SiteCode(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A site of HL7 table 0163. ``limb``: LT, RT, LA, RA, or "" for neither."""

    key: str
    name: str
    limb: str
    snomed: str
    source: str


@cache
def cvx_codes() -> dict[str, CvxEntry]:
    """All CVX codes by their text, two digits at least ("03", "110").

    Raises RulebookError with every fault when the file is not fit for use.
    """
    path = CODES / "cvx.toml"
    files = (path, EDITIONS / "sources.toml")
    return kept(dict[str, CvxEntry], files, lambda: _read_cvx(path))


def _read_cvx(path: Path) -> dict[str, CvxEntry]:
    data, faults = read_toml(path)
    found: dict[str, CvxEntry] = {}
    for code, values in data.get("cvx", {}).items():
        try:
            entry = msgspec.convert([code, *values], CvxEntry)
        except (msgspec.ValidationError, TypeError) as error:
            faults.append(Fault("rulebook.E012", place(path, f'code "{code}"'), str(error)))
            continue
        faults += check_source(entry.source, path, f'code "{code}"')
        found[code] = entry
    if faults:
        raise RulebookError(faults)
    return found


@cache
def route_codes() -> dict[str, RouteCode]:
    """Routes by our key: IM, SC, PO, NAS, ID, PC, IV."""
    rows = load_rows(CODES / "routes.toml", RouteCode)
    return {row.key: row for row in rows}


@cache
def site_codes() -> dict[str, SiteCode]:
    """Sites by HL7 0163 code: LT, RT, LA, RA, LD, RD, LVL, RVL, LG, RG, LLFA, RLFA, LVG, RVG."""
    rows = load_rows(CODES / "sites.toml", SiteCode)
    return {row.key: row for row in rows}


@cache
def _route_spellings() -> dict[str, str]:
    spellings: dict[str, str] = {}
    for row in route_codes().values():
        for spelling in (row.key, row.name, row.v2, row.v3, row.ncit, *row.also):
            if spelling:
                spellings[spelling.casefold()] = row.key
    return spellings


def route_key(text: str) -> str | None:
    """Our key for any known spelling of a route, None for an unknown one.

    >>> route_key("SQ"), route_key("C38288"), route_key("sideways")
    ('SC', 'PO', None)
    """
    return _route_spellings().get(text.strip().casefold())


class VaccineName(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A bare vaccine name and the CVX code that says no more than the name does."""

    key: str
    cvx: str
    also: tuple[str, ...]
    source: str


def plain_name(text: str) -> str:
    """A vaccine name for comparison: small letters and digits only.

    >>> plain_name("DTaP-IPV/Hib"), plain_name("Hep B")
    ('dtapipvhib', 'hepb')
    """
    return "".join(sign for sign in text.casefold() if sign.isalnum())


@cache
def cvx_by_name() -> dict[str, str]:
    """CVX code of each vaccine name, by ``plain_name``; bare names go before the set's own."""
    found = {plain_name(entry.name): code for code, entry in cvx_codes().items()}
    for row in load_rows(CODES / "vaccine-names.toml", VaccineName):
        for name in (row.key, *row.also):
            found[plain_name(name)] = row.cvx
    return found
