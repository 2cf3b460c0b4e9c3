"""Dropping a roster, seeing every fault where it is, and mending it there."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from traywise.workbench.accounts.roles import needs
from traywise.workbench.audit.models import note
from traywise.workbench.audit.seen import note_seen
from traywise.workbench.children.forms import RosterForm
from traywise.workbench.children.models import DraftRow, Import
from traywise.workbench.children.roster_text import (
    cell_at,
    entry_text,
    is_lines_of_json,
    is_table,
    line_of,
    mend_cell,
    mend_entry,
)
from traywise.workbench.children.taking_in import read_again, text_of
from traywise.workbench.day.day_text import day_of

SHOWN_ROWS = 50
LONGEST_SHOWN = 200_000


@needs("receive children")
@require_http_methods(["GET", "POST"])
def roster(request: HttpRequest, text: str) -> HttpResponse:
    """Drop a file, and see what still waits from earlier ones."""
    day = day_of(text)
    form = RosterForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        name = file.name[:200]
        content, faults = text_of(file.read(), name)
        if content is None:
            for fault in faults:
                form.add_error("file", f"{fault.text} ({fault.code})")
        else:
            source = Import.objects.create(
                file_name=name, text=content.replace("\0", ""), day=day, by=request.user
            )
            read_again(source, request.user)
            note(request, "brought in a roster", detail=f"{name} for {day}")
            return redirect("import", source.pk)
    return render(
        request,
        "children/roster.html",
        {"form": form, "day": day, "imports": Import.objects.filter(day=day)},
        status=400 if form.errors else 200,
    )


@needs("receive children")
@require_http_methods(["GET", "POST"])
def import_one(request: HttpRequest, pk: int) -> HttpResponse:
    """What was taken in and what waits; a POST mends cells, an entry, or the order of dates."""
    source = get_object_or_404(Import, pk=pk)
    if request.method == "POST":
        _mend(source, request)
        read_again(source, request.user)
        _say_how_it_went(request, source)
        return redirect("import", pk)
    note_seen(request, f"roster {source.pk}", "")
    waiting = source.rows.filter(state=DraftRow.WAITING)
    rows = [_shown(source, row) for row in waiting[:SHOWN_ROWS]]
    return render(
        request,
        "children/import.html",
        {
            "source": source,
            "rows": rows,
            "more": max(0, waiting.count() - SHOWN_ROWS),
            "taken": source.rows.filter(state=DraftRow.TAKEN).select_related("child"),
            "aside": source.rows.filter(state=DraftRow.ASIDE),
            "whole_text": source.text
            if not is_table(source.text)
            and not is_lines_of_json(source.text)
            and len(source.text) <= LONGEST_SHOWN
            and (waiting.exists() or not source.rows.exists())
            else "",
            "asks_order": any(code == "record.E104" for code, _, _ in source.file_faults),
        },
    )


def _shown(source: Import, row: DraftRow) -> dict[str, Any]:
    """The faults of one row, each with the cell where it can be mended."""
    faults = []
    for code, at, text in row.faults:
        cell = cell_at(source.text, at)
        faults.append({"code": code, "at": at, "text": text, "cell": cell})
    shown: dict[str, Any] = {"row": row, "faults": faults}
    line = line_of(row.entry)
    shown["line"] = line
    if is_lines_of_json(source.text):
        shown["entry"] = entry_text(source.text, line)
    elif is_table(source.text) and all(fault["cell"] is None for fault in faults):
        shown["line_text"] = source.text.splitlines()[line - 1 : line]
    return shown


def _mend(source: Import, request: HttpRequest) -> None:
    """Put what was typed into the kept text."""
    mended = []
    for name, value in request.POST.items():
        parts = name.split("-")
        where = [int(p) for p in parts[1:] if p.isascii() and p.isdigit() and len(p) < 8]
        if parts[0] == "cell" and len(parts) == 3 and len(where) == 2:
            source.text = mend_cell(source.text, where[0], where[1], value)
            mended.append(f"line {where[0]}")
        elif parts[0] == "entry" and len(parts) == 2 and len(where) == 1:
            source.text = mend_entry(source.text, where[0], value)
            mended.append(f"line {where[0]}")
        elif name == "whole":
            source.text = value
            mended.append("the whole text")
        elif name == "date_order" and value in ("dmy", "mdy"):
            source.date_order = value
            mended.append(f"order {value}")
    note(request, "mended a roster", detail=f"{source.file_name}: {', '.join(mended)}")


def _say_how_it_went(request: HttpRequest, source: Import) -> None:
    waiting = source.rows.filter(state=DraftRow.WAITING).count()
    if waiting:
        messages.warning(request, f"Read again. {waiting} still to mend.")
    else:
        messages.success(request, "Read again. All is taken in.")


@needs("receive children")
@require_POST
def row_aside(request: HttpRequest, pk: int) -> HttpResponse:
    """Set one row aside, or bring it back: it is kept either way."""
    row = get_object_or_404(DraftRow.objects.select_related("source"), pk=pk)
    if row.state != DraftRow.TAKEN:
        row.state = DraftRow.WAITING if row.state == DraftRow.ASIDE else DraftRow.ASIDE
        row.save()
        note(request, "set a roster row aside", detail=row.entry)
    return redirect("import", row.source_id)
