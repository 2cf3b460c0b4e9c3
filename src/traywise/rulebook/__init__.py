"""Rulebook: reads and checks the clinical data under ``editions/``.

In come TOML files: a folder per published schedule, a file per table, a list of
sources. Out come typed, frozen rows; bad data are refused, all faults at once, by
file, row and key. This room applies no rule to any child.
"""

from traywise.rulebook.edition import edition_names, load_edition
from traywise.rulebook.published import Edition, Group
from traywise.rulebook.tables import load_table

__all__ = ["Edition", "Group", "edition_names", "load_edition", "load_table"]
