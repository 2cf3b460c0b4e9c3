"""Traywise: from a child's record to a tray that is right.

Rooms, from the bottom up: calendar, rulebook, record, schedule, screening,
equipment, shelf, tray, session, ledger; cli and workbench stand on top.
This module imports none of them, so that a command starts quickly.
"""

__version__ = "0.1.0"
