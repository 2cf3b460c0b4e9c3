"""One line of a shelf file: its cells, and what must hold between them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, tzinfo
from typing import Any

import msgspec

from traywise.errors import Fault
from traywise.shelf.cells import (
    BadCell,
    looks_mangled,
    read_clock,
    read_cost,
    read_doses,
    read_expires,
    read_funding,
    read_lot,
    read_presentation,
    read_product_code,
    read_vaccine_key,
    read_vial_doses,
)
from traywise.shelf.clock import is_unclear
from traywise.shelf.discard import discard_time
from traywise.shelf.lot import Lot

COLUMNS = (
    "lot", "cvx", "mvx", "presentation", "doses", "expires",
    "funding", "unit", "opened_at", "discard_at", "cost",
)  # fmt: skip
OPTIONAL = ("vaccine", "doses_per_vial", "received", "held")


class RowReader:
    """One line under way: reads cell by cell and gathers every fault of the line."""

    def __init__(self, values: dict[str, str], at: str, on: date | None, zone: tzinfo | None):
        self.values, self.at, self.on, self.zone = values, at, on, zone
        self.faults: list[Fault] = []

    def fault(self, code: str, column: str, text: str) -> None:
        self.faults.append(Fault(code, f"{self.at}, column {column}", text))

    def take(self, column: str, read: Callable[..., Any], *more: Any) -> Any:
        """The cell's value, or None and a fault."""
        try:
            return read(self.values.get(column, ""), *more)
        except BadCell as bad:
            self.fault(bad.code, column, bad.text)
            return None

    def maybe(self, column: str, read: Callable[..., Any], *more: Any) -> Any:
        """As ``take``; an empty cell is None without a fault."""
        return self.take(column, read, *more) if self.values.get(column) else None

    def read(self, too_many: bool) -> Lot | None:
        """The lot, or None when what makes a lot is missing."""
        if any("\n" in cell for cell in self.values.values()):
            self.fault(
                "shelf.E004", "any", "A quotation mark is not closed. Close it or remove it."
            )
            return None
        number = self.take("lot", read_lot)
        cvx = self.take("cvx", read_product_code)
        presentation = self.take("presentation", read_presentation)
        doses = self.take("doses", read_doses)
        funding = self.take("funding", read_funding)
        expires = self.take("expires", read_expires)
        vaccine = self.take("vaccine", read_vaccine_key, cvx) if cvx else ""
        opened_at, bad_opened = self._clock("opened_at", "shelf.E070")
        discard_at, bad_discard = self._clock("discard_at", "shelf.E071")
        if too_many:
            self.fault(
                "shelf.W005", "last", "The line has more cells than the header; they are kept."
            )
        if None in (number, cvx, presentation, doses, funding, vaccine):
            return None
        held = self.values.get("held", "")
        if bad_opened or bad_discard:
            held = held or "its opening or discard time cannot be read"
        lot = Lot(
            lot=number,
            cvx=cvx,
            presentation=presentation,
            doses=doses,
            expires=expires,
            mvx=self.values.get("mvx", "").upper() or None,
            funding=funding,
            unit=self.values.get("unit", ""),
            opened_at=opened_at,
            discard_at=discard_at,
            cost=self.maybe("cost", read_cost),
            held=held,
            vaccine=vaccine,
            doses_per_vial=self.maybe("doses_per_vial", read_vial_doses),
            extra={k: v for k, v in self.values.items() if v and k not in {*COLUMNS, *OPTIONAL}},
        )
        return self._check(lot)

    def _clock(self, column: str, code: str) -> tuple[datetime | None, bool]:
        """The instant, and whether the cell could not be read."""
        if not self.values.get(column):
            return None, False
        found = self.take(column, read_clock, code, self.zone)
        if found is None:
            return None, True
        written, instant = found
        if is_unclear(written, self.zone):
            self.fault(
                "shelf.W002",
                column,
                f'"{self.values[column]}" lies where the clock changes; the earlier reading is '
                "taken. Write the offset to be sure.",
            )
        return instant, False

    def _check(self, lot: Lot) -> Lot:
        """Faults between cells; the lot comes back held where it must not be used."""
        if looks_mangled(lot.lot):
            self.fault(
                "shelf.W004",
                "lot",
                f'"{lot.lot}" looks changed by a spreadsheet. Copy it from the carton.',
            )
        product = lot.product
        if product is not None and lot.presentation not in product.presentations:
            usual = ", ".join(product.presentations)
            self.fault(
                "shelf.W051",
                "presentation",
                f"{product.name} is listed as {usual}. Check the carton.",
            )
        lot = self._check_expiry(lot)
        return self._check_vial(lot)

    def _check_expiry(self, lot: Lot) -> Lot:
        if lot.expires is None:
            return lot
        received = self.maybe("received", read_expires)
        if received is not None and lot.expires < received:
            text = f"Expired on {lot.expires}, before it came. Set it apart and tell the supplier."
            self.fault("shelf.E042", "expires", text)
            return msgspec.structs.replace(lot, held=lot.held or "expired on arrival")
        if lot.opened_at is not None and lot.opened_at.date() > lot.expires:
            self.fault(
                "shelf.E043",
                "opened_at",
                f"Opened after its last day, {lot.expires}. Throw it away.",
            )
        elif self.on is not None and lot.expires < self.on:
            text = f"Lot {lot.lot} expired on {lot.expires}. It is not used; take it off the shelf."
            self.fault("shelf.W001", "expires", text)
        return lot

    def _check_vial(self, lot: Lot) -> Lot:
        if lot.discard_at is None or lot.opened_at is None:
            return lot
        discard, opened = lot.discard_at.astimezone(UTC), lot.opened_at.astimezone(UTC)
        if discard <= opened:
            self.fault(
                "shelf.E072",
                "discard_at",
                "The discard time is not after the opening. Correct one of them.",
            )
            return msgspec.structs.replace(
                lot, held=lot.held or "its discard time is before its opening"
            )
        if lot.product is not None and lot.expires is not None:
            kept = discard_time(
                lot.product, lot.presentation, lot.opened_at, lot.expires, zone=self.zone
            )
            if discard > kept.at.astimezone(UTC):
                self.fault(
                    "shelf.W003",
                    "discard_at",
                    f"Later than the product keeps ({kept.why}): {kept.at:%Y-%m-%d %H:%M} holds.",
                )
        return lot
