"""Faults in what people and files give us: as values that travel together.

A fault has a stable code (``record.E031``), a place (file, line, path, key)
and a text that says what was found and how to mend it. Reading returns faults
and goes on; only what must never be ignored raises, and then with all faults.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec


class Fault(msgspec.Struct, frozen=True):
    """One thing wrong in the input.

    code  room, dot, ``E`` (error) or ``W`` (warning), three digits
    at    where: ``file, line 14, column born`` or a JSON path
    text  what was found and what to write instead
    """

    code: str
    at: str
    text: str

    @property
    def is_error(self) -> bool:
        """True for an error, False for a warning.

        >>> Fault("record.W004", "line 3", "unknown key").is_error
        False
        """
        return self.code.rpartition(".")[2].startswith("E")


class TraywiseError(Exception):
    """Base of all errors raised on purpose; carries the faults that caused it."""

    def __init__(self, faults: Sequence[Fault]):
        self.faults = tuple(faults)
        super().__init__("\n".join(format_fault(fault) for fault in self.faults))


class RulebookError(TraywiseError):
    """The rulebook's data are not fit for use."""


class InputError(TraywiseError):
    """A file or a request cannot be read at all."""


class RefusedError(TraywiseError):
    """A safety check that must not be passed over said no."""


def format_fault(fault: Fault) -> str:
    """Two lines: code and place, then the text indented.

    >>> print(format_fault(Fault("record.E031", "roster.csv, line 14", "no such day.")))
    record.E031  roster.csv, line 14
      no such day.
    """
    return f"{fault.code}  {fault.at}\n  {fault.text}"
