"""A lot on the shelf: one batch of one product in one unit, or one opened vial of it."""

from __future__ import annotations

from datetime import date, datetime

import msgspec

from traywise.rulebook.vaccines import Vaccine, vaccines, vaccines_by_cvx

PRESENTATIONS = ("prefilled", "vial", "vial+diluent", "multidose", "oral", "spray", "ampoule")
FUNDINGS = ("", "public", "private")


class Lot(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the shelf. Times carry an offset; None means unknown.

    doses       doses left
    expires     last day of use; a month-only date is its last day
    funding     "public", "private", or "" for any
    opened_at   when the vial was first pierced or mixed; None: unopened
    discard_at  when the opened vial must be thrown away
    held        why it may not be used (quarantine, recall); "" when it may
    vaccine     key in vaccines.toml, where the CVX code leaves several products open
    extra       further columns of the file, kept and shown
    """

    lot: str
    cvx: str
    presentation: str
    doses: int
    expires: date | None = None
    mvx: str | None = None
    funding: str = ""
    unit: str = ""
    opened_at: datetime | None = None
    discard_at: datetime | None = None
    cost: float | None = None
    held: str = ""
    vaccine: str = ""
    doses_per_vial: int | None = None
    extra: dict[str, str] = {}

    @property
    def key(self) -> tuple[str, str, str, str, str]:
        """What tells two lines apart: number, code, unit, funding, opened vial."""
        opened = "" if self.opened_at is None else self.opened_at.isoformat()
        return (self.lot, self.cvx, self.unit, self.funding, opened)

    @property
    def opened(self) -> bool:
        """Whether this is an opened vial: a discard time alone says so too."""
        return self.opened_at is not None or self.discard_at is not None

    @property
    def product(self) -> Vaccine | None:
        """The product of this lot; None for a code of no product that can be given."""
        if self.vaccine:
            return vaccines().get(self.vaccine)
        return vaccines_by_cvx().get(self.cvx)

    @property
    def vial_doses(self) -> int:
        """Doses in one vial or syringe: as the file says, else as the product table says."""
        if self.presentation not in ("multidose", "ampoule"):
            return 1
        if self.doses_per_vial is not None:
            return self.doses_per_vial
        product = self.product
        # An unknown vial size is the whole lot: then no vial is thought to be there that is not.
        return (product.multidose_doses if product else None) or max(self.doses, 1)
