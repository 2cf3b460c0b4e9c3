"""Short texts that change when a page would: one plain statement each.

A page that is drawn once for everybody is asked for many times a second; building these few
statements anew from models took longer than the database needs to answer them.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import connection

_SHELF = """SELECT
 (SELECT MAX(changed_at) FROM shelf_lot), (SELECT COUNT(*) FROM shelf_lot),
 (SELECT SUM(doses_left) FROM shelf_lot), (SELECT COUNT(*) FROM shelf_lot WHERE quarantined <> ''),
 (SELECT MAX(changed_at) FROM shelf_supply), (SELECT COUNT(*) FROM shelf_supply)"""
_DAY = """SELECT
 (SELECT MAX(changed_at) FROM day_appointment WHERE day = %(day)s),
 (SELECT COUNT(*) FROM day_appointment WHERE day = %(day)s),
 (SELECT MAX(c.updated_at) FROM day_appointment a
   JOIN children_childrecord c ON c.id = a.child_id WHERE a.day = %(day)s),
 (SELECT MAX(id) FROM day_dayevent WHERE day = %(day)s),
 (SELECT COUNT(*) FROM children_draftrow r
   JOIN children_import i ON i.id = r.source_id WHERE i.day = %(day)s AND r.state = %(waiting)s)"""
_VISIT = """SELECT
 (SELECT MAX(number) FROM ledger_ledgerentry WHERE child_id = %(child)s),
 (SELECT MAX(id) FROM giving_screeninganswer WHERE visit_id = %(visit)s),
 (SELECT MAX(id) FROM giving_traychange WHERE visit_id = %(visit)s),
 (SELECT MAX(id) FROM giving_laidtray WHERE visit_id = %(visit)s)"""


def _ask(statement: str, **values: Any) -> str:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        return str(cursor.fetchone())


def shelf_stamp() -> str:
    """Changes with every movement, opening, quarantine and count."""
    return _ask(_SHELF)


def day_stamp(day: date, waiting: str) -> str:
    """Changes with every visit, child, event and draft of a day.

    waiting  the state of a draft that is to be mended
    """
    return _ask(_DAY, day=connection.ops.adapt_datefield_value(day), waiting=waiting)


def visit_stamp(visit: int, child: int) -> str:
    """Changes with the child's ledger, and the visit's answers, changes and laid trays."""
    return _ask(_VISIT, visit=visit, child=child)
