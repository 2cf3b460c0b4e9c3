"""Every fault code of the rulebook: what it means and what to do. ``docs/faults.md`` lists them."""

from __future__ import annotations

FAULTS: dict[str, tuple[str, str]] = {
    # any table
    "rulebook.E001": ("The file cannot be read as TOML.", "Mend the syntax at the line named."),
    "rulebook.E002": ("Rows are not written as rows.", "Write each as [[row]]."),
    "rulebook.E003": ("A table of this name has no meaning here.", "Remove or rename it."),
    "rulebook.E004": ("The group's key is not the one that the edition lists.", "Make them equal."),
    "rulebook.E012": ("A key is unknown, missing or has a value of the wrong kind.", "Correct it."),
    "rulebook.E013": ("A key stands twice.", "Give each row a key of its own."),
    "rulebook.E014": (
        "The source is not in sources.toml.",
        "Add it, or say common practice.",
    ),
    # an edition as a whole
    "rulebook.E015": (
        "after is not understood.",
        'Write a number, "2 or more", "series", "any".',
    ),
    "rulebook.E016": ("Two ages stand in the wrong order.", "Correct one of them."),
    "rulebook.E017": ("A product list is not defined.", "Add it to [products]."),
    "rulebook.E018": ("A row that does not count gives no reason.", "Add a short reason."),
    "rulebook.E019": ("No row speaks for a child without doses.", "Add a row with after = 0."),
    "rulebook.E024": ("There are too many lists, conditions or groups.", "Merge some."),
    "rulebook.E025": ("A condition is not in conditions.toml.", "Use a known key, or add a row."),
    "rulebook.E026": ("A vaccine is not in vaccines.toml.", "Use a known key or family."),
    "rulebook.E028": ("The day of publication is no date.", "Write YYYY, YYYY-MM or YYYY-MM-DD."),
    "rulebook.E029": ("A family of live vaccines is not defined.", "Add it as [[live_family]]."),
    "rulebook.E037": ("What a row says of an event does not fit together.", "Correct the event."),
    "rulebook.E038": (
        "given_in_campaign or given_with stands in a row that cannot use it.",
        'Use it with kind "does not count" or "extra dose".',
    ),
    # editions and overlays by name
    "rulebook.E020": ("There is no such edition.", "Use one of those listed."),
    "rulebook.E021": ("The overlay is for another edition.", "Name an edition that it fits."),
    "rulebook.E022": ("The overlay names a group that the edition lacks.", "Correct the group."),
    "rulebook.E023": ("The overlay names a row that the group lacks.", "Correct the row's key."),
    "rulebook.E027": ("There is no such overlay.", "Use one of those listed, or a file."),
    # tables read with other tables
    "rulebook.E030": ("A condition implies a key that is not in the list.", "Correct the key."),
    "rulebook.E031": ("A screening rule names an unknown condition.", "Correct the key."),
    "rulebook.E032": ("wait and wait_from stand apart.", "Write both or neither."),
    "rulebook.E033": ("A screening rule is about nothing.", "Say which groups or products."),
    "rulebook.E034": ("A question names an unknown condition.", "Correct the key."),
    "rulebook.E035": ("An answer is set but not offered.", "Add it to answers."),
    "rulebook.E036": ("A question follows one that does not exist.", "Correct after."),
}
