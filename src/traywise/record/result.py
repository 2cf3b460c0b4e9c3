"""What reading gives back: entries in the order of the file, each with its faults."""

from __future__ import annotations

import msgspec

from traywise.errors import Fault
from traywise.record.child import Child


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One child of the file. ``child`` is None when an error sets it aside.

    id      as far as it could be read, None when not even that
    at      where it stands: ``roster.jsonl, line 14``
    faults  errors and warnings of this child, in the order found
    """

    id: str | None
    at: str
    child: Child | None
    faults: tuple[Fault, ...] = ()


class Column(msgspec.Struct, frozen=True, kw_only=True):
    """How one column of a table was read: ``field`` None when it was ignored."""

    number: int  # from 1
    header: str
    field: str | None
    how: str = ""  # what was taken for granted, such as the order of day and month


class Mapping(msgspec.Struct, frozen=True, kw_only=True):
    """Which column of one file was read as what; to be shown to the person who gave the file."""

    file: str
    layout: str  # "children", "doses", "one line a dose", "one column a dose"
    delimiter: str
    columns: tuple[Column, ...]


class ReadResult(msgspec.Struct, frozen=True, kw_only=True):
    """All that a file gave.

    entries   one a child, in the order of the file, those set aside included
    faults    faults of the file as a whole (not readable, a column missing)
    mappings  for tables: how the columns were read
    """

    entries: tuple[Entry, ...] = ()
    faults: tuple[Fault, ...] = ()
    mappings: tuple[Mapping, ...] = ()

    @property
    def children(self) -> tuple[Child, ...]:
        """The children that can be answered for."""
        return tuple(entry.child for entry in self.entries if entry.child is not None)

    @property
    def all_faults(self) -> tuple[Fault, ...]:
        """Faults of the file, then those of each entry, each once."""
        own = (fault for entry in self.entries for fault in entry.faults)
        return tuple(dict.fromkeys((*self.faults, *own)))

    @property
    def complete(self) -> bool:
        """Whether nothing was set aside."""
        return not any(fault.is_error for fault in self.all_faults)
