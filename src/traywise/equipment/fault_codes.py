"""Every fault code of this room: what it means and what to do. ``docs/faults.md`` lists them."""

from __future__ import annotations

FAULTS: dict[str, tuple[str, str]] = {
    # the request
    "equipment.E001": ("The needle policy is unknown.", "Choose a listed key or name a TOML file."),
    "equipment.E002": ("The visit is dated before the birth.", "Correct one of the two dates."),
    "equipment.E003": (
        "A policy file lacks its head, has two, or falls back to nothing known.",
        "Write one [[policy]] with a key of its own and falls_back_to.",
    ),
    "equipment.E004": (
        "A needle row names a length that it does not allow, or no gauge.",
        "Put default_mm and stretched_mm into lengths_mm; list the gauges.",
    ),
    # reach: the chance that a needle ends in muscle
    "equipment.E101": ("The site is unknown.", "Write thigh or deltoid."),
    "equipment.E102": ("The technique is unknown.", "Write one of those listed."),
    "equipment.E103": ("The age is outside what is known.", "Write months from birth."),
    "equipment.E104": ("The weight is no child's.", "Write kilograms."),
    "equipment.E105": ("The length is no needle's.", "Write millimetres."),
    "equipment.E106": ("The angle cannot be.", "Write degrees to the skin."),
    # the weight
    "equipment.W121": ("A common slip would explain the weight.", "Read the scale again."),
    "equipment.W122": ("The weight lies far from its age.", "Weigh again."),
    # the supplies list
    "supplies.E001": ("The file cannot be read as text.", "Save it as CSV in UTF-8."),
    "supplies.E002": ("The header lacks a column.", "Write item and count at least."),
    "supplies.E003": ("The item is unknown.", "Write one of the items listed."),
    "supplies.E004": ("The count is no whole number.", "Write a whole number, 0 if none."),
    "supplies.E005": ("The count is negative.", "Count again; 0 if none."),
    "supplies.E006": ("The gauge is missing or no number.", "Write the number on the box."),
    "supplies.E007": ("No needle for injections has this gauge.", "See if columns are swapped."),
    "supplies.E008": ("The length is written in inches.", "Write the millimetres proposed."),
    "supplies.E009": ("The length is missing or no needle's.", "Write millimetres."),
    "supplies.E010": ("The syringe size is missing or unreal.", "Write millilitres."),
    "supplies.E013": ("The expiry cannot be read; the line is not used.", "Write YYYY-MM-DD."),
    "supplies.E015": ("Faults leave not one usable line.", "Mend the faults of the file."),
    "supplies.W011": ("The same kind stands twice.", "Take one line out if it is the same box."),
    "supplies.W012": ("A column is not used.", "Leave it or take it out."),
    "supplies.W013": ("The supply has expired; it is not laid ready.", "Take it out."),
    "supplies.W014": ("The box size is no number; single pieces are ordered.", "Write it anew."),
    "supplies.W102": ("The text was read as Windows-1252.", "Check accents, or save as UTF-8."),
}
