"""Faults of one resource: each names the file, the resource and the element."""

from __future__ import annotations

from traywise.errors import Fault
from traywise.record.values import printable


class Findings:
    """Collects the faults of one resource."""

    def __init__(self, at: str):
        self.at = at
        self.faults: list[Fault] = []

    def add(self, code: str, element: str, said: str) -> None:
        """One fault at an element of the resource, or at the resource itself ("")."""
        at = f"{self.at}, {element}" if element else self.at
        self.faults.append(Fault(code, printable(at), printable(said)))
