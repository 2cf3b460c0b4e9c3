"""GS1 element strings of packs and labels.

In: what a scanner sent or a hand typed. Out: GTIN, lot, expiry, serial and NDC, checked,
or faults; and element strings for labels. Never guesses a lost separator or the hyphens of
an NDC. Loads nothing but its table.
"""

from traywise.exchange.gs1.read_scan import Scan, read_scan
from traywise.exchange.gs1.write import write_bracketed, write_element_string

__all__ = ["Scan", "read_scan", "write_bracketed", "write_element_string"]
