"""Schedule: what counts, what is due, what comes next.

In come a child's record, the name of an edition and a day; out goes an ``Answer``:
a verdict on every dose given and a forecast for every group, each with row, reason
and source. One rule logic (conditions, spacing, judge, forecast) over compiled rows
serves one child here and millions in ``population``. This room never asks screening
questions, knows no shelf, and holds no clinical number: those are rows of editions.
"""

from traywise.schedule.answer import Answer, DoseJudged, DoseVerdict, GroupForecast
from traywise.schedule.assess import assess

__all__ = ["Answer", "DoseJudged", "DoseVerdict", "GroupForecast", "assess"]
