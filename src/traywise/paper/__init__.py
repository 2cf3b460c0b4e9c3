"""Everything drawn and printed.

In come a child, an answer of the schedule and a tray (or a day's board); out go SVG drawings,
PDF sheets with labels, the parent's sheet and plain text for a terminal. Status is told by shape
and word, so that a grey copy says the same. This room decides nothing clinical, fills in nothing
that is unknown, and loads typst and zxing-cpp only when something is printed.
"""

from traywise.paper.body_map import Mark, body_map_svg
from traywise.paper.day_board import BoardDose, BoardRow, DayBoard, Pick, Watch
from traywise.paper.day_sheet import day_sheet_pdf
from traywise.paper.day_text import board_text
from traywise.paper.figures import figure_for
from traywise.paper.labels import Label, labels_for
from traywise.paper.needle_drawing import needle_svg
from traywise.paper.parent_sheet import parent_sheet_pdf
from traywise.paper.sheet import tray_sheet_pdf, tray_sheets_pdf
from traywise.paper.sheet_data import TraySheet
from traywise.paper.terminal import forecast_text, tray_text

__all__ = [
    "BoardDose",
    "BoardRow",
    "DayBoard",
    "Label",
    "Mark",
    "Pick",
    "TraySheet",
    "Watch",
    "board_text",
    "body_map_svg",
    "day_sheet_pdf",
    "figure_for",
    "forecast_text",
    "labels_for",
    "needle_svg",
    "parent_sheet_pdf",
    "tray_sheet_pdf",
    "tray_sheets_pdf",
    "tray_text",
]
