"""Screening: the reasons of the child's own not to give a vaccine today.

In come a child's record with its answers, the day, the groups that are due and the
products that could serve them. Out go findings (contraindications, precautions, care,
and what is commonly misread as a reason), each with its date where there is one and its
source, and the questions that must still be asked. It never decides which dose is due,
never judges a dose given, and never takes an unanswered question for a "no".
"""

from traywise.screening.apply import apply
from traywise.screening.findings import Finding
from traywise.screening.open_questions import Question
from traywise.screening.screen import screen
from traywise.screening.verdicts import Screening

__all__ = ["Finding", "Question", "Screening", "apply", "screen"]
