"""Every fault code of population files: what it means and what to do; see ``docs/faults.md``."""

from __future__ import annotations

FAULTS: dict[str, tuple[str, str]] = {
    "population.E001": ("The file is no readable Parquet file.", "Check path and kind."),
    "population.E003": (
        "The file holds no answers.",
        "Make one with traywise population forecast.",
    ),
    "population.E004": ("The group is not in the file.", "Choose one of those that are named."),
    "population.E010": ("A column is missing.", "Add id and born; pairs of columns go together."),
    "population.E011": ("The day lies outside what the calendar holds.", "Choose another day."),
    "population.E012": ("A column holds the wrong kind of values.", "Write the kind named."),
    "population.E013": (
        "Two list columns differ in length for a child.",
        "Write one entry of each for every dose or product.",
    ),
    "population.E020": ("Two files have one name.", "Give them different names."),
    "population.E021": (
        "The cluster cannot be used.",
        "Install the package distributed; check the address.",
    ),
    "population.E022": ("No file can be written there.", "Name an ordinary file in a folder."),
    "population.E023": ("The file to be written is one that is read.", "Choose another name."),
}
