"""What several commands read from the command line: days, editions, records, shelves, supplies."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import click
import msgspec

from traywise.equipment.place import SupplyOnHand
from traywise.equipment.policy import policy_chain
from traywise.equipment.supplies import SUPPLIES_UNREAD, nothing_read, read_supplies_file
from traywise.errors import Fault, InputError, RulebookError, format_fault
from traywise.exchange.read_any import read_any
from traywise.record.child import Child
from traywise.record.result import ReadResult
from traywise.rulebook.edition import load_edition
from traywise.shelf.lot import Lot
from traywise.shelf.read_csv import ShelfFile, read_shelf
from traywise.shelf.unread import SHELF_UNREAD, fault_of_unread


def read_file_bytes(path: Path) -> bytes:
    """The content of a file or of standard input; a clear message and exit 2 when unreadable."""
    if str(path) == "-" and sys.stdin is None:
        raise click.UsageError("Standard input is closed. Name a file, or pipe one in.")
    try:
        return sys.stdin.buffer.read() if str(path) == "-" else path.read_bytes()
    except OSError as error:
        raise click.UsageError(f"{path} cannot be read: {error.strerror}.") from None


def read_records(
    path: Path, on: date | None, doses: Path | None = None, date_order: str | None = None
) -> ReadResult:
    """Children of a file of any known kind.

    on          the day asked for: what lies before it is not "ahead"
    doses       the doses of a roster, in a second file
    date_order  of dates in a table where the data leave it open: dmy or mdy
    """
    name = "standard input" if str(path) == "-" else path.name
    second = None if doses is None else (read_file_bytes(doses), doses.name)
    today = max(date.today(), on or date.min)
    return read_any(
        read_file_bytes(path), name, doses=second, date_order=date_order, day=on, today=today
    )


def read_child_file(
    file: Path, on: date | None, dose_file: Path | None = None, date_order: str | None = None
) -> ReadResult:
    """Children of a population file (Parquet) or of a file of any other kind."""
    if str(file) != "-" and file.suffix == ".parquet":
        # Imported late: only these files need Arrow.
        from traywise.population import records

        if records.is_population(file):
            return records.read_records(file)
    return read_records(file, on, dose_file, date_order)


def born_by(result: ReadResult, day: date) -> ReadResult:
    """The same with children of a later birth set aside, whatever day their record asks for."""
    entries = []
    for entry in result.entries:
        if entry.child is not None and entry.child.born > day:
            text = f"Born on {entry.child.born}, after {day}. Correct one of the two."
            fault = Fault("record.E040", f"{entry.at}, born", text)
            entry = msgspec.structs.replace(entry, child=None, faults=(*entry.faults, fault))
        entries.append(entry)
    return msgspec.structs.replace(result, entries=tuple(entries))


def read_one_child(
    path: Path, on: date | None, doses: Path | None = None, date_order: str | None = None
) -> tuple[Child, tuple[Fault, ...]]:
    """The one child of a file; shows all faults and exits 1 when it cannot be used."""
    result = read_records(path, on, doses, date_order)
    faults = result.all_faults
    if len(result.children) == 1 and len(result.entries) == 1:
        return result.children[0], faults
    show_faults(faults)
    if result.children:
        count = len(result.entries)
        raise click.UsageError(f"{path} holds {count} children; use traywise session for several.")
    raise SystemExit(1)


def read_shelf_file(path: Path, on: date) -> ShelfFile:
    """The shelf with its faults; lots with errors are set aside and named."""
    _must_be_readable("The shelf", path)
    return read_shelf(path, on=on)


def read_usable_shelf(path: Path, on: date) -> tuple[tuple[Lot, ...] | None, tuple[Fault, ...]]:
    """Lots of a shelf file and its faults, to choose from on a day.

    None where faults leave not one lot that may be used (``SHELF_UNREAD`` stands among
    them then): what lies on the shelf is not known, which is not the same as an empty shelf.
    """
    shelf = read_shelf_file(path, on)
    lost = fault_of_unread(shelf, path.name, on)
    return (shelf.lots, shelf.faults) if lost is None else (None, (*shelf.faults, lost))


def read_supply_file(
    path: Path | None, on: date
) -> tuple[tuple[SupplyOnHand, ...] | None, tuple[Fault, ...]]:
    """Supplies at hand and the faults of their file.

    None when no file is given, and when faults leave not one line of it (``SUPPLIES_UNREAD``
    stands among them then): what is at hand is not known, which is not the same as nothing.
    """
    if path is None:
        return None, ()
    _must_be_readable("The supplies", path)
    supplies = read_supplies_file(path, on=on)
    lost = nothing_read(supplies, path.name)
    return (supplies.lines, supplies.faults) if lost is None else (None, (*supplies.faults, lost))


def lost_records(result: ReadResult) -> tuple[str, ...]:
    """What the reader of a plan must know first: whose records were not read and are not in it.

    Nothing where all could be read.
    """
    if not result.entries:
        return ("No record was read: mend the file and plan again.",)
    lost = [entry for entry in result.entries if entry.child is None]
    if not lost:
        return ()
    who = ", ".join(f"{entry.id} ({entry.at})" if entry.id else entry.at for entry in lost)
    records = "1 record" if len(lost) == 1 else f"{len(lost)} records"
    return (f"{records} not read, not in this plan: {who}. Mend them and plan again.",)


def lost_files(faults: Sequence[Fault]) -> tuple[Fault, ...]:
    """Of all faults those that say a whole file could not be used: the answer must show them."""
    return tuple(fault for fault in faults if fault.code in (SHELF_UNREAD, SUPPLIES_UNREAD))


def _must_be_readable(what: str, path: Path) -> None:
    if not path.exists() or path.is_dir():
        why = "it is a folder" if path.exists() else "there is no such file"
        raise click.UsageError(f"{what} {path} cannot be read: {why}.")


def show_faults(faults: Sequence[Fault]) -> None:
    """Every fault on standard error."""
    for fault in faults:
        click.echo(format_fault(fault), err=True)


def asked_groups(edition: str, names: Sequence[str]) -> frozenset[str]:
    """Groups asked for, in either case; exit 2 for one that the edition does not have."""
    known = {group.key.casefold(): group.key for group in load_edition(edition).groups}
    for name in names:
        if name.casefold() not in known:
            raise click.UsageError(
                f'--ask-for "{name}" is no group of {edition}. Groups: {", ".join(known.values())}.'
            )
    return frozenset(known[name.casefold()] for name in names)


def needle_policy_name(name: str) -> str:
    """The name, when such a needle policy can be read; all its faults and exit 2 when not."""
    try:
        policy_chain(name)
    except InputError as error:
        shown = "\n".join(format_fault(fault) for fault in error.faults)
        raise click.UsageError(f"The needle policy cannot be used.\n{shown}") from None
    return name


def edition_name(name: str) -> str:
    """The name, when such an edition loads; all its faults and exit 2 when it does not."""
    try:
        load_edition(name)
    except RulebookError as error:
        shown = "\n".join(format_fault(fault) for fault in error.faults)
        raise click.UsageError(f"The edition cannot be used.\n{shown}") from None
    return name
