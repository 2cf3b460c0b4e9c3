"""Every fault code of this room: what it means and what to do. ``docs/faults.md`` lists them."""

from __future__ import annotations

FAULTS: dict[str, tuple[str, str]] = {
    # the file
    "shelf.E001": ("The file cannot be read, or is empty.", "Check path, encoding and header."),
    "shelf.E002": ("A column that is needed is missing.", "Add it to the header."),
    "shelf.E003": ("A column stands twice.", "Rename one of them."),
    "shelf.E004": ("A quotation mark is not closed.", "Close it or remove it."),
    "shelf.E005": ("Faults leave not one usable lot.", "Mend the faults of the file."),
    # the lot
    "shelf.E010": ("The lot number is missing.", "Copy it from the carton."),
    "shelf.E011": (
        "The same lot, unit, funding and opening stand twice; the second line is set aside.",
        "Add the doses up in one line.",
    ),
    "shelf.E020": ("The code is no CVX code.", "Write the number as text."),
    "shelf.E021": ("The code is not in the list of CVX codes.", "Correct it."),
    "shelf.E022": ("The code names no product that can be given.", "Write the product's code."),
    "shelf.E023": ("The product is none of that code.", "Leave the cell empty or choose one."),
    "shelf.E030": ("Doses are no number.", "Count the doses left."),
    "shelf.E031": ("Doses are below zero.", "Count again; a lot used up has 0."),
    "shelf.E032": ("Doses are no whole number.", "Count the doses left."),
    "shelf.E033": ("Doses a vial are no whole number above 0.", "Read the carton."),
    "shelf.E040": ("The expiry cannot be read; the lot is not used.", "Write YYYY-MM-DD."),
    "shelf.E041": ("The expiry is missing; the lot is not used.", "Copy it from the carton."),
    "shelf.E042": ("Expired on arrival; the lot is not used.", "Tell the supplier."),
    "shelf.E043": ("Opened after its last day.", "Throw it away."),
    "shelf.E050": ("The presentation is unknown.", "Write one of the seven words."),
    "shelf.E060": ("The funding source is unknown.", "Write public or private, or leave empty."),
    "shelf.E070": ("The opening time cannot be read; the vial is not used.", "Write it anew."),
    "shelf.E071": ("The discard time cannot be read; the vial is not used.", "Write it anew."),
    "shelf.E072": ("The discard time is not after the opening.", "Correct one of them."),
    "shelf.E080": ("The cost is no amount.", "Write the number only, or leave empty."),
    "shelf.W001": ("The lot has expired by the day of the session.", "Take it off the shelf."),
    "shelf.W002": ("The time lies where the clock changes.", "Write the offset."),
    "shelf.W003": ("The discard time is later than the product keeps.", "The earlier one holds."),
    "shelf.W004": ("The lot number looks changed by a spreadsheet.", "Copy it from the carton."),
    "shelf.W005": ("The line has more cells than the header.", "They are kept; check the line."),
    "shelf.W051": ("The product is not listed in that presentation.", "Check the carton."),
    "shelf.W102": ("The text was read as Windows-1252.", "Check accents, or save as UTF-8."),
    # stock entries; all of them are refused
    "shelf.E100": ("More doses would leave than lie there.", "Count the unit, record the count."),
    "shelf.E101": ("The number of doses is missing or below zero.", "Write how many."),
    "shelf.E102": ("The reason is missing.", "Say why."),
    "shelf.E103": ("Where the doses go is missing, or said where nothing moves.", "Say where to."),
    "shelf.E104": ("A move changes lot or product.", "Keep them; only the place changes."),
    "shelf.E105": ("Funding sources would be mixed.", "Record a borrowing."),
    "shelf.E106": ("A borrowing without a child.", "Say for which child."),
    "shelf.E110": ("The lot is in quarantine or recalled.", "Do not use it."),
    "shelf.E111": ("The lot has expired.", "Do not use it."),
}
