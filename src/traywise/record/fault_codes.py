"""Every fault code of this room: what it means and what to do. ``docs/faults.md`` lists them."""

from __future__ import annotations

FAULTS: dict[str, tuple[str, str]] = {
    # the file
    "record.E001": ("The file is not text in UTF-8 or UTF-16.", "Save it as UTF-8."),
    "record.E002": ("The JSON cannot be parsed.", "Mend the syntax at line and column."),
    "record.E003": ("An object was expected and something else stands there.", "Write {...}."),
    "record.E004": ("A key stands twice in one object.", "Keep the one that is right."),
    "record.E005": ("The file is empty.", "Give it at least one child."),
    "record.E006": ("The JSON is nested too deep to be a child.", "Check what was exported."),
    "record.E007": ("An HL7 FHIR resource stands among our own records.", "Read it as FHIR."),
    # the child
    "record.E010": ("The id is missing or no text.", "Give each child an id."),
    "record.E011": (
        "An id stands more than once; all its records are set aside.",
        "Give each child an id of its own, or merge the records.",
    ),
    "record.E012": ("The date of birth is missing.", "Add it."),
    # values
    "record.E020": ("A value of another kind was expected.", "Write it as the text says."),
    "record.E021": ("A date is not written YYYY-MM-DD.", "Write it so; proposals are given."),
    "record.E022": (
        "A date lacks its day or month, which is never guessed.",
        "Look it up; until then leave the entry out.",
    ),
    "record.E023": ("There is no such day.", "Correct it."),
    "record.E024": ("The year lies outside the calendar used here.", "Correct it."),
    "record.E025": ("The sex is none of those known.", "Write F, M, X or nothing."),
    "record.E026": ("This is not a CVX code.", "Write its digits as text."),
    "record.E027": (
        "The CVX code is not in our list.",
        "Correct it; for a newer code write 999 and a note.",
    ),
    "record.E028": ("The route is not known.", "Write IM, SC, PO, NAS, ID, PC or IV."),
    "record.E029": (
        "The site is not a code of HL7 table 0163.",
        "Write LT, RT, LD or the like.",
    ),
    "record.E030": ("A dose, condition or product lacks a key it needs.", "Add it."),
    "record.E031": ("The time of day cannot be read.", "Write HH:MM."),
    "record.E032": (
        "The waiting time after this antibody product is not known.",
        "Write a kind of the interval table.",
    ),
    "record.E033": ("This cannot be the answer to a question.", 'Write "yes", "no" or a value.'),
    "record.E034": ("A number must be above zero, or whole.", "Write the measured value."),
    # impossible values
    "record.E040": ("The child is born after the day of the answer.", "Correct one of the two."),
    "record.E041": ("A dose lies before birth.", "Correct the date, or remove the dose."),
    "record.E042": ("A dose lies ahead of today.", "Enter a dose only once it is given."),
    "record.E043": ("The gestation is impossible.", "Write completed weeks."),
    "record.E044": ("The weight is impossible.", "Write kilograms."),
    "record.E045": ("The birth weight is impossible.", "Write grams."),
    "record.E046": ("The height is impossible.", "Write centimetres."),
    "record.E048": ("A condition ends before it begins.", "Correct one of the two."),
    "record.E049": ("A date lies before birth or ahead.", "Correct it."),
    # doubtful values
    "record.W001": ("A key is not known and was not used.", "Correct it if it is a slip."),
    "record.W003": ("No rule looks at this condition.", "Weigh it yourself, or correct the key."),
    "record.W010": ("The same dose stands twice.", "Remove one if it was one dose."),
    "record.W011": (
        "Two codes with a common antigen on one day.",
        "Keep the one that fits if it was one dose.",
    ),
    "record.W012": ("A dose lies after the day of the answer.", "Check the day you ask for."),
    "record.W013": ("The weight is unusual at this age.", "Check value and unit."),
    "record.W014": ("The person is beyond the ages of a children's schedule.", "Check the birth."),
    "record.W015": ("The code stands for no vaccine.", "List antibodies under products."),
    "record.W016": ("The dose had expired when it was given.", "Check both dates."),
    "record.W017": ("The volume is unusual.", "Check value and unit."),
    "record.W018": ("The code was never in use.", "Check the code."),
    # tables
    "record.E101": ("No line with the names of the columns.", "Add one at the top."),
    "record.E102": ("A column that is needed is missing.", "Add or rename a column."),
    "record.E103": ("Two columns seem to hold the same thing.", "Rename one of them."),
    "record.E104": (
        "Day and month of a date can be read in two ways.",
        "State the order (dmy or mdy), or write YYYY-MM-DD.",
    ),
    "record.E105": ("A date does not say the century.", "Write the year with four digits."),
    "record.E106": ("A measure cannot be read safely.", "Write number and unit."),
    "record.E107": ("Two lines of one child contradict each other.", "Make them say the same."),
    "record.E108": ("A dose belongs to a child that is not listed.", "Add the child."),
    "record.E109": ("The vaccine is not known.", "Write its CVX code or ACIP abbreviation."),
    "record.E110": ("A line has more cells than there are columns.", "Put such text in quotes."),
    "record.E111": ("Quotes are not closed; the rest was not read.", "Close them."),
    "record.E112": (
        "A column that may hold doses is not understood.",
        'Name it by vaccine and dose: "HepB 1".',
    ),
    "record.W101": ("Columns that were not used.", "Rename them if they matter."),
    "record.W102": ("The table was read as Windows-1252.", "Check letters with accents."),
    "record.W103": ("Day numbers of a spreadsheet were read as dates.", "Compare one of them."),
    "record.W104": ("A measure has no unit; ours was taken.", "Name the unit in the column."),
}
