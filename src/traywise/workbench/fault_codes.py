"""Every fault code of this room: what it means and what to do. ``docs/faults.md`` lists them."""

from __future__ import annotations

FAULTS: dict[str, tuple[str, str]] = {
    "workbench.E001": ("The dropped file is an archive or a workbook.", "Save it as CSV."),
    "workbench.E002": ("The dropped file is no text.", "Drop CSV, JSON or FHIR."),
    "workbench.E003": (
        "The roster holds more children than a day can.",
        "Bring in only the children of this day.",
    ),
    "workbench.E010": (
        "The id belongs to a child with another date of birth.",
        "Correct the date, or give this child an id of its own.",
    ),
    "workbench.E011": ("An id or a name is too long.", "Shorten it; the file's text is kept."),
    "workbench.E020": ("The lot has not so many doses.", "Scan another lot, or count this one."),
    "workbench.E030": ("The backup file exists already.", "Name another file."),
    "workbench.E031": ("The file is no backup.", "Name the right file."),
    "workbench.E032": ("The backup is damaged.", "Take an older backup."),
    "workbench.E033": ("The folder holds a clinic already.", "Restore into an empty one."),
    "workbench.E034": ("The database holds a clinic already.", "Restore into an empty one."),
    "workbench.E036": ("The backup's rows do not fit the workbench.", "Take another backup."),
    "workbench.E035": ("A seal of the backup does not hold.", "Keep it as evidence; take another."),
}

STOPS: dict[str, tuple[str, str]] = {
    "giving.S001": ("The label is of another child.", "Nobody passes it. Ask name and birth date."),
    "giving.S010": ("The lot is not on the shelf.", "Nobody passes it. Receive the lot first."),
    "giving.S011": ("Another product was scanned.", "Scan the right one."),
    "giving.S012": ("Another lot was scanned.", "Take the laid one, or say why."),
    "giving.S013": ("Vial and shelf name different expiry dates.", "Set the lot apart."),
    "giving.S014": ("The lot may not be used.", "Take another; an empty lot is passed by nobody."),
    "giving.S015": ("The open vial is past its discard time.", "Discard it, open another."),
    "giving.S020": ("The tray is of another day.", "Nobody passes it. Lay today's tray."),
    "giving.S021": ("The product covers nothing that is due.", "Look at the tray again."),
    "giving.S022": ("Age, interval or a finding speaks against it.", "Look at the tray again."),
}
