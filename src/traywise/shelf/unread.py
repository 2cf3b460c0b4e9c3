"""Whether a shelf file told nothing that can be used: not an empty shelf, but an unknown one."""

from __future__ import annotations

from datetime import date

from traywise.errors import Fault
from traywise.shelf.read_csv import ShelfFile
from traywise.shelf.usable import why_not_usable

SHELF_UNREAD = "shelf.E005"
_OF_THE_GOODS = ("shelf.E042", "shelf.E043")  # expired: the line itself was read well


def fault_of_unread(shelf: ShelfFile, name: str, on: date) -> Fault | None:
    """The fault of the whole file when its faults leave not one lot to use on that day.

    A shelf that is empty, or whose lots have all expired, was read: None.
    """
    unread = any(fault.is_error and fault.code not in _OF_THE_GOODS for fault in shelf.faults)
    if not unread or any(why_not_usable(lot, on) is None for lot in shelf.lots):
        return None
    text = (
        "The shelf could not be read: with the faults of this file not one lot of it can be "
        "used, so no product was chosen. Mend the file and ask again."
    )
    return Fault(SHELF_UNREAD, name, text)
