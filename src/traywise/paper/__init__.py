"""Everything drawn and printed.

In come a child, an answer of the schedule and a tray (or a day's board); out go SVG drawings,
PDF sheets with labels, the parent's sheet and plain text for a terminal. Status is told by shape
and word, so that a grey copy says the same. This room decides nothing clinical, fills in nothing
that is unknown, and loads typst and zxing-cpp only when something is printed.
"""

from importlib import import_module
from typing import Any

# The public names by file.
_FILES = {
    "body_map": ("Mark", "body_map_svg"),
    "day_board": ("BoardDose", "BoardRow", "DayBoard", "Pick", "Watch"),
    "day_sheet": ("day_sheet_pdf",),
    "day_text": ("board_text",),
    "figures": ("figure_for",),
    "labels": ("Label", "labels_for"),
    "needle_drawing": ("needle_svg",),
    "parent_sheet": ("parent_sheet_pdf",),
    "sheet": ("tray_sheet_pdf", "tray_sheets_pdf"),
    "sheet_data": ("TraySheet",),
    "terminal": ("forecast_text", "tray_text"),
}
_FILE_OF = {name: file for file, names in _FILES.items() for name in names}

__all__ = list(_FILE_OF)


def __getattr__(name: str) -> Any:
    """A public name; its file is loaded when the name is asked for, for text needs no drawing."""
    if name not in _FILE_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_FILE_OF[name]}"), name)
