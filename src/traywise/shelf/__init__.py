"""The shelf: lots, opened vials, stock entries and what to reorder.

In come a shelf file or dated stock entries; out go lots with their faults, whether a
lot may be used on a day and hour, stock as the sum of its entries, and reorder
figures. This room never chooses a product for a child and never changes an entry.
"""

from traywise.shelf.discard import discard_time
from traywise.shelf.lot import Lot
from traywise.shelf.read_csv import ShelfFile, read_shelf
from traywise.shelf.usable import ends_at, why_not_usable

__all__ = ["Lot", "ShelfFile", "discard_time", "ends_at", "read_shelf", "why_not_usable"]
