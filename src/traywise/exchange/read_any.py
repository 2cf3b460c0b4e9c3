"""Reads a file of children whatever its format, told by its content, not by its name."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from traywise.errors import Fault
from traywise.record.decode_text import decode_text
from traywise.record.read_csv import read_table
from traywise.record.read_json import read_children
from traywise.record.result import ReadResult

LARGEST_BYTES = 50_000_000

_PACKED = {
    b"PK\x03\x04": "a ZIP archive or a spreadsheet workbook. Unpack it, or save the sheet as CSV",
    b"\x1f\x8b": "a gzip archive. Unpack it",
    b"%PDF": "a PDF. Ask for the record as a table or as JSON",
    b"\xd0\xcf\x11\xe0": "an old office file. Save the sheet as CSV",
    b"PAR1": "a Parquet file. Use the population commands",
    b"SQLite format": "a database. Export the children as CSV or JSON",
    b"\x89PNG": "an image",
    b"\xff\xd8\xff": "an image",
}


def read_file(
    path: Path,
    *,
    doses: Path | None = None,
    date_order: str | None = None,
    day: date | None = None,
    today: date | None = None,
    largest_bytes: int = LARGEST_BYTES,
) -> ReadResult:
    """The children of a file: our JSON, FHIR (JSON or XML) or a table; never raises.

    doses       a second table with one dose a line
    date_order  "dmy" or "mdy" for tables whose data leave it open
    day, today  as for read_children
    """
    data, fault = _load(path, largest_bytes)
    if fault is not None:
        return ReadResult(faults=(fault,))
    second: tuple[bytes, str] | None = None
    if doses is not None:
        dose_data, fault = _load(doses, largest_bytes)
        if fault is not None:
            return ReadResult(faults=(fault,))
        second = (dose_data, doses.name)
    return read_any(data, path.name, doses=second, date_order=date_order, day=day, today=today)


def read_any(
    data: bytes | str,
    name: str,
    *,
    doses: tuple[bytes | str, str] | None = None,
    date_order: str | None = None,
    day: date | None = None,
    today: date | None = None,
) -> ReadResult:
    """As read_file, for content already at hand (an upload, standard input)."""
    raw = data if isinstance(data, bytes) else data[:4000].encode("utf-8", "replace")
    for mark, what in _PACKED.items():
        if raw.startswith(mark):
            return _refused("exchange.E303", name, f"This is {what}.")
    text, faults = decode_text(data, name, old_windows=True)
    if text is None:
        return ReadResult(faults=tuple(faults))
    head = text.lstrip()[:20_000]
    if _is_binary(head):
        return _refused("exchange.E303", name, "This is not text. Give JSON, CSV or FHIR.")
    if head.startswith(("MSH|", "\x0bMSH", "FHS|")):
        remedy = "Messages of HL7 version 2 are not read. Ask for FHIR R4, CSV or JSON."
        return _refused("exchange.E304", name, remedy)
    if head.startswith("<"):
        return _read_fhir(data, name, day, today)
    if head.startswith(("{", "[")):
        # Our records have "born", which no FHIR resource has.
        if '"resourceType"' in head.partition('"born"')[0]:
            return _read_fhir(data, name, day, today)
        return read_children(data, name, day=day, today=today)
    return read_table(data, name, doses=doses, date_order=date_order, day=day, today=today)


def _read_fhir(data: bytes | str, name: str, day: date | None, today: date | None) -> ReadResult:
    # Imported late: most files are no FHIR.
    from traywise.exchange.fhir.read import read_fhir

    return read_fhir(data, name, day=day, today=today)


def _load(path: Path, largest_bytes: int) -> tuple[bytes, Fault | None]:
    try:
        with path.open("rb") as handle:
            data = handle.read(largest_bytes + 1)
    except OSError as error:
        said = f"The file cannot be opened: {error.strerror or error}. Check name and rights."
        return b"", Fault("exchange.E301", path.name, said)
    if len(data) > largest_bytes:
        said = (
            f"The file is larger than {largest_bytes // 1_000_000} MB. Split it, or use the "
            "population commands for a whole registry."
        )
        return b"", Fault("exchange.E302", path.name, said)
    return data, None


def _refused(code: str, name: str, said: str) -> ReadResult:
    return ReadResult(faults=(Fault(code, name, said),))


def _is_binary(head: str) -> bool:
    """Whether a tenth of the beginning are control signs, which text has none of."""
    controls = sum(sign < " " and sign not in "\t\r\n\x0b\x1c\x1d" for sign in head)
    return controls * 10 > max(len(head), 10)
