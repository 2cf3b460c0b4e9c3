"""Stock as dated entries: what lies on the shelf is always their sum, and never below zero.

Entries are only added. A mistake is mended by a further entry: a count says what was
found, and the difference becomes visible instead of being written over.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from typing import Literal

import msgspec

from traywise.errors import Fault, RefusedError

Kind = Literal[
    "receive",  # doses came in; carries the expiry
    "use",  # given to a child
    "waste",  # thrown away, with the reason
    "count",  # counted: the number found becomes the stock
    "transfer",  # to another unit
    "borrow",  # from one funding source for a child of the other, to be repaid
    "repay",  # the borrowed doses come back
    "quarantine",  # set apart; all units of the lot number
    "release",  # quarantine ended
    "recall",  # the lot number must not be used any more
]
_OUT = ("use", "waste", "transfer", "borrow", "repay")
_NEEDS_REASON = ("waste", "borrow", "quarantine", "recall")


class StockPlace(msgspec.Struct, frozen=True, kw_only=True, order=True):
    """Where doses lie: lot number, code, unit and funding source."""

    lot: str
    cvx: str
    unit: str = ""
    funding: str = ""


class StockEntry(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that happened to the stock.

    doses  how many; for a count the number found; unused for quarantine, release, recall
    to     transfer, borrow, repay: where the doses go
    child  borrow: for whom (id), with ``reason``; use: to whom, where known
    """

    at: datetime
    kind: Kind
    place: StockPlace
    doses: int = 0
    to: StockPlace | None = None
    expires: date | None = None
    reason: str = ""
    child: str | None = None
    by: str = ""


class Loan(msgspec.Struct, frozen=True, kw_only=True):
    """Doses borrowed between funding sources and not yet repaid."""

    lender: StockPlace
    borrower: StockPlace
    doses: int


def add_entry(entries: Sequence[StockEntry], entry: StockEntry) -> tuple[StockEntry, ...]:
    """The entries and one more; RefusedError when it may not be.

    Refused: a negative number, stock below zero at that or any later time, use of a lot
    that is held or expired, goods that come in expired, an entry without its reason.
    """
    faults = _faults_of(entry)
    if not faults:
        faults = _refusals_by_state(entries, entry)
    if not faults:
        faults = _first_below_zero([*entries, entry])
    if faults:
        raise RefusedError(faults)
    return (*entries, entry)


def stock(entries: Iterable[StockEntry], at: datetime | None = None) -> dict[StockPlace, int]:
    """Doses by place: the sum of all entries up to ``at`` (None: all)."""
    sums: dict[StockPlace, int] = {}
    for entry in _in_order(entries):
        if at is not None and _instant(entry.at) > _instant(at):
            break
        _apply(sums, entry)
    return sums


def held_lots(entries: Iterable[StockEntry], at: datetime | None = None) -> dict[str, str]:
    """Lot numbers that must not be used, and why. A recall is never released."""
    held: dict[str, str] = {}
    recalled: set[str] = set()
    for entry in _in_order(entries):
        if at is not None and _instant(entry.at) > _instant(at):
            break
        lot = entry.place.lot
        if entry.kind == "recall":
            held[lot] = f"recalled: {entry.reason}"
            recalled.add(lot)
        elif entry.kind == "quarantine" and lot not in recalled:
            held[lot] = f"in quarantine: {entry.reason}"
        elif entry.kind == "release" and lot not in recalled:
            held.pop(lot, None)
    return held


def expiry_dates(entries: Iterable[StockEntry]) -> dict[str, date]:
    """The expiry of each lot number, from its receipts; the earliest where they differ."""
    found: dict[str, date] = {}
    for entry in entries:
        if entry.kind == "receive" and entry.expires is not None:
            found[entry.place.lot] = min(entry.expires, found.get(entry.place.lot, entry.expires))
    return found


def open_loans(entries: Iterable[StockEntry]) -> tuple[Loan, ...]:
    """What one funding source still owes the other, by product and unit."""
    owed: dict[tuple[str, str, str], tuple[StockPlace, StockPlace, int]] = {}
    for entry in _in_order(entries):
        if entry.kind not in ("borrow", "repay") or entry.to is None:
            continue
        lender, borrower = (
            (entry.place, entry.to) if entry.kind == "borrow" else (entry.to, entry.place)
        )
        key = (lender.cvx, lender.funding, borrower.funding)
        first = owed.get(key, (lender, borrower, 0))
        change = entry.doses if entry.kind == "borrow" else -entry.doses
        owed[key] = (first[0], first[1], first[2] + change)
    return tuple(
        Loan(lender=lender, borrower=borrower, doses=doses)
        for lender, borrower, doses in owed.values()
        if doses > 0
    )


def count_difference(entries: Sequence[StockEntry], entry: StockEntry) -> int:
    """What a count finds beyond (or, negative, short of) the sum of the entries before it."""
    return entry.doses - stock(entries, entry.at).get(entry.place, 0)


def _instant(value: datetime) -> datetime:
    return value.astimezone(UTC)


def _in_order(entries: Iterable[StockEntry]) -> list[StockEntry]:
    # Sorting is stable: entries of the same instant stay in the order they were written.
    return sorted(entries, key=lambda entry: _instant(entry.at))


def _apply(sums: dict[StockPlace, int], entry: StockEntry) -> None:
    here = sums.get(entry.place, 0)
    if entry.kind == "receive":
        sums[entry.place] = here + entry.doses
    elif entry.kind == "count":
        sums[entry.place] = entry.doses
    elif entry.kind in _OUT:
        sums[entry.place] = here - entry.doses
        if entry.to is not None:
            sums[entry.to] = sums.get(entry.to, 0) + entry.doses


def _fault(code: str, entry: StockEntry, text: str) -> Fault:
    return Fault(code, f"{entry.kind}, lot {entry.place.lot}, {entry.at.isoformat()}", text)


def _faults_of(entry: StockEntry) -> list[Fault]:
    """What is wrong with the entry taken by itself."""
    faults = []
    moves = entry.kind in ("receive", "use", "waste", "transfer", "borrow", "repay")
    if entry.doses < 0 or (moves and entry.doses < 1):
        faults.append(_fault("shelf.E101", entry, "Write how many doses: a whole number above 0."))
    if entry.kind in _NEEDS_REASON and not entry.reason.strip():
        faults.append(_fault("shelf.E102", entry, "Say why."))
    if entry.kind in ("transfer", "borrow", "repay"):
        faults += _faults_of_move(entry)
    elif entry.to is not None:
        faults.append(_fault("shelf.E103", entry, "Only a transfer, a loan or a repayment moves."))
    if entry.kind == "receive" and entry.expires is None:
        faults.append(_fault("shelf.E041", entry, "Write the expiry date as printed."))
    if entry.kind == "receive" and entry.expires is not None and entry.expires < entry.at.date():
        text = f"Expired on arrival ({entry.expires}). Do not take it in; tell the supplier."
        faults.append(_fault("shelf.E042", entry, text))
    return faults


def _faults_of_move(entry: StockEntry) -> list[Fault]:
    to, place = entry.to, entry.place
    if to is None or to == place:
        return [_fault("shelf.E103", entry, "Say where the doses go.")]
    if (to.cvx, to.lot) != (place.cvx, place.lot) and entry.kind == "transfer":
        return [
            _fault("shelf.E104", entry, "A transfer keeps lot and code; only the unit changes.")
        ]
    if to.cvx != place.cvx:
        return [_fault("shelf.E104", entry, "Borrowing and repaying keep the product.")]
    if entry.kind == "transfer" and to.funding != place.funding:
        text = (
            "Funding sources are kept apart. To use the other source's stock, record a borrowing."
        )
        return [_fault("shelf.E105", entry, text)]
    if entry.kind in ("borrow", "repay") and to.funding == place.funding:
        return [_fault("shelf.E105", entry, "Borrowing is between two funding sources.")]
    if entry.kind == "borrow" and not entry.child:
        return [_fault("shelf.E106", entry, "Say for which child the dose is borrowed.")]
    return []


def _refusals_by_state(entries: Sequence[StockEntry], entry: StockEntry) -> list[Fault]:
    """What the lot's state at that time forbids."""
    if entry.kind not in ("use", "borrow"):
        return []
    why = held_lots(entries, entry.at).get(entry.place.lot)
    if why is not None:
        return [_fault("shelf.E110", entry, f"The lot is {why}. It must not be used.")]
    expires = expiry_dates(entries).get(entry.place.lot)
    if expires is not None and entry.at.date() > expires:
        return [_fault("shelf.E111", entry, f"Expired on {expires}. It must not be used.")]
    return []


def _first_below_zero(entries: Iterable[StockEntry]) -> list[Fault]:
    sums: dict[StockPlace, int] = {}
    for entry in _in_order(entries):
        _apply(sums, entry)
        if sums.get(entry.place, 0) < 0:
            short = -sums[entry.place]
            text = f"{short} more than lie there. Count the unit, then record the count."
            return [_fault("shelf.E100", entry, text)]
    return []
