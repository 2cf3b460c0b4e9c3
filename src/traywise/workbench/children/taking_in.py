"""Takes a dropped file in: good entries become children of the day, the others wait."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db import transaction

from traywise.errors import Fault
from traywise.record.child import Child
from traywise.record.decode_text import decode_text
from traywise.record.result import Entry
from traywise.workbench.children.merging import merge_children
from traywise.workbench.children.models import ChildRecord, DraftRow, Import, new_child
from traywise.workbench.children.roster_text import read_roster
from traywise.workbench.day.events import tell
from traywise.workbench.day.models import Appointment

MOST_CHILDREN = 2000  # of one day's roster
ARCHIVE_STARTS = (
    b"PK\x03\x04",
    b"\x1f\x8b",
    b"7z\xbc\xaf",
    b"\xd0\xcf\x11\xe0",
    b"BZh",
    b"\xfd7zXZ",
)


def text_of(data: bytes, name: str) -> tuple[str | None, list[Fault]]:
    """The file as text, or why it is none. Archives are refused unopened."""
    if data.startswith(ARCHIVE_STARTS):
        return None, [
            Fault(
                "workbench.E001",
                name,
                "This is a spreadsheet or an archive, not text. Open it and save it as CSV "
                "(comma separated, UTF-8), then drop that file.",
            )
        ]
    if b"\0" in data[:4096] and not data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return None, [
            Fault("workbench.E002", name, "This is not a text file. Drop a CSV, JSON or FHIR file.")
        ]
    return decode_text(data, name, old_windows=True)


def read_again(source: Import, by: Any) -> None:
    """Read the kept text; take in what is good now, keep the rest with its faults."""
    result = read_roster(source.text, source.file_name, source.date_order)
    entries, faults = result.entries, result.faults
    if len(entries) > MOST_CHILDREN:
        text = (
            f"{len(entries)} children stand in this file; a roster of one day has at most "
            f"{MOST_CHILDREN}. None was taken in. Bring in only the children of this day."
        )
        entries, faults = (), (Fault("workbench.E003", source.file_name, text),)
    with transaction.atomic():
        source.file_faults = _as_rows(faults)
        source.save()
        settled = set(source.rows.exclude(state=DraftRow.WAITING).values_list("entry", flat=True))
        source.rows.filter(state=DraftRow.WAITING).delete()
        for entry in entries:
            if _storable(entry.at)[:300] not in settled:
                _take_or_keep(source, entry, by)


def _as_rows(faults: Iterable[Fault]) -> list[list[str]]:
    return [[fault.code, _storable(fault.at), _storable(fault.text)] for fault in faults]


def _storable(text: str) -> str:
    """JSON can spell the sign of number zero, which PostgreSQL keeps in no text."""
    return text.replace("\0", "\N{REPLACEMENT CHARACTER}")


def _take_or_keep(source: Import, entry: Entry, by: Any) -> None:
    row = DraftRow(
        source=source,
        entry=_storable(entry.at)[:300],
        child_id_text=_storable(entry.id or "")[:200],
        faults=_as_rows(entry.faults),
    )
    if entry.child is not None:
        conflict = _conflict(entry.child, entry.at)
        if conflict is None:
            row.child = _take(source, entry.child, by)
            row.state = DraftRow.TAKEN
        else:
            row.faults += _as_rows([conflict])
    row.save()


def _conflict(came: Child, at: str) -> Fault | None:
    """The same id with another date of birth is another child, or a slip: a person decides."""
    for word, text, field in (("id", came.id, "record_id"), ("name", came.name or "", "name")):
        most = ChildRecord._meta.get_field(field).max_length
        if len(text) > most or "\0" in text:
            words = f"The {word} may have {most} letters at most; this one has {len(text)}."
            return Fault("workbench.E011", f"{at}, column {word}", words)
    kept = ChildRecord.objects.filter(record_id=came.id).first()
    if kept is None or kept.born == came.born:
        return None
    return Fault(
        "workbench.E010",
        f"{at}, column born",
        f'"{came.id}" is {kept.name}, born {kept.born}, in our records; here the date of birth '
        f"is {came.born}. Correct the date, or give this child an id of its own.",
    )


def _take(source: Import, came: Child, by: Any) -> ChildRecord:
    kept = ChildRecord.objects.filter(record_id=came.id).first()
    if kept is None:
        kept = new_child(came)
    else:
        merged = merge_children(kept.read(), came)
        while merged != kept.read() and not kept.keep(merged):
            kept.refresh_from_db()  # somebody changed it meanwhile: join with that
            merged = merge_children(kept.read(), came)
    visit, made = Appointment.objects.get_or_create(
        child=kept, day=source.day, defaults={"time": came.appointment or ""}
    )
    if made:
        tell(source.day, f"{kept.name} was added from {source.file_name}", by)
    elif came.appointment and visit.time != came.appointment:
        Appointment.objects.filter(pk=visit.pk).update(time=came.appointment)
        tell(source.day, f"{kept.name} now comes at {came.appointment}", by)
    return kept
