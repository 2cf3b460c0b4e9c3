"""Every fault code of this room: what it means and what to do. ``docs/faults.md`` lists them."""

from __future__ import annotations

FAULTS: dict[str, tuple[str, str]] = {
    # HL7 FHIR
    "exchange.E101": ("There is no Patient in the file.", "Hand over the whole Bundle."),
    "exchange.E102": ("A resource refers to a patient who is not here.", "Add the Patient."),
    "exchange.E103": ("The vaccine's code is not known.", "Add a CVX coding; 999 if not known."),
    "exchange.E104": ("A dose has no date.", "Give occurrenceDateTime with the day."),
    "exchange.E105": ("The XML declares a document type or an entity.", "Remove it."),
    "exchange.E106": ("The XML cannot be parsed.", "Mend the syntax."),
    "exchange.E107": ("This is not a FHIR resource.", "Check what was exported."),
    "exchange.E108": ("The status of a dose is none of FHIR's.", "Correct the status."),
    "exchange.E109": ("The Bundle is one page of several.", "Hand over all pages as one."),
    "exchange.W101": ("A resource of this type is not used.", "Look at it yourself."),
    "exchange.W102": ("Not given, refuted or withdrawn; left out.", "Nothing, if that is right."),
    "exchange.W103": ("A detail was left out.", "Correct it if it matters."),
    "exchange.W104": ("No rule uses this observation.", "Weigh it yourself."),
    "exchange.W105": ("An allergy without stated anaphylaxis.", "Ask about it at screening."),
    "exchange.W107": ("The vaccine was read by its name.", "Check it."),
    # GS1
    "exchange.E201": ("The scan is empty.", "Scan again."),
    "exchange.E202": ("An identifier that medicines do not carry.", "Scan again, or type."),
    "exchange.E203": ("A value has the wrong length or characters.", "Scan again."),
    "exchange.E204": ("The check digit is wrong.", "Scan again."),
    "exchange.E205": ("A date does not exist or lies too far off.", "Read the pack."),
    "exchange.E206": ("A value stands twice and differs.", "Scan one pack at a time."),
    "exchange.E208": ("The symbol is not a GS1 symbol.", "Scan the GS1 DataMatrix."),
    "exchange.W207": ("A separator may have been lost.", "Compare the lot with the pack."),
    # any file
    "exchange.E301": ("The file cannot be opened.", "Check name and rights."),
    "exchange.E302": ("The file is too large.", "Split it, or use the population commands."),
    "exchange.E303": ("The file is of a kind that is not read.", "Give JSON, CSV or FHIR."),
    "exchange.E304": ("HL7 version 2 is not read.", "Ask for FHIR R4, CSV or JSON."),
}
