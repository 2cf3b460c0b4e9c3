"""The session: all trays of a morning against the shelf at once.

In come the children's needs (schedule and screening applied), the shelf, the hours and
the weights; out goes one plan: who gets what from which lot, who misses what and what
would change it, what to fetch, when to mix, what is left, what to order, and whether
the optimum is proven. The rules of a child are those of the single tray. It never
changes stock, never moves an appointment, and never gives a dose the tray would refuse.
"""

from traywise.session.check import check_plan
from traywise.session.make_plan import plan_session
from traywise.session.plan import SessionPlan
from traywise.session.request import Session, SessionChild, Weights, prepare

__all__ = [
    "Session",
    "SessionChild",
    "SessionPlan",
    "Weights",
    "check_plan",
    "plan_session",
    "prepare",
]
