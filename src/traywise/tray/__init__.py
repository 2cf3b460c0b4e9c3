"""Tray: composes the visit of one child.

In come a child's record, a day, the shelf and the supplies; out comes a ``Visit``:
the schedule's answer, the screening, and the tray with its places in the order of
giving, what is not given today and why, open questions, supplies and cautions. The
choice of products is exact (``products``); sites and needles are the equipment
room's. This room holds no clinical number and writes no page.
"""

from traywise.tray.compose import Visit, compose_tray
from traywise.tray.plan import Place, Tray

__all__ = ["Place", "Tray", "Visit", "compose_tray"]
