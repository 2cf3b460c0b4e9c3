"""A child's record: what it is, and reading it from JSON and tables.

In: text or bytes of a file. Out: ``ReadResult``, one entry a child in the order of the
file, each with the typed ``Child`` or the faults that set it aside. This room never
judges a dose, never guesses what the record does not say, and never raises for bad
input: faults are values.
"""

from traywise.record.child import Child, Condition, CvxCode, DoseGiven, ProductReceived
from traywise.record.read_csv import read_table
from traywise.record.read_json import read_children
from traywise.record.result import Column, Entry, Mapping, ReadResult

__all__ = [
    "Child",
    "Column",
    "Condition",
    "CvxCode",
    "DoseGiven",
    "Entry",
    "Mapping",
    "ProductReceived",
    "ReadResult",
    "read_children",
    "read_table",
]
