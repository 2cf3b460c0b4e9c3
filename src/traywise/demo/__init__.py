"""The demo clinic: invented children, lots and supplies for one session.

Nobody and nothing here exists. The files are written for the morning of
2026-11-24; ``shifted`` moves every date so that the demo can play today.
"""

from traywise.demo.load import DEMO_DAY, demo_children, demo_files, demo_shelf, demo_supplies

__all__ = ["DEMO_DAY", "demo_children", "demo_files", "demo_shelf", "demo_supplies"]
