"""Whether one product may be given to one child now, asked of schedule, screening and tray."""

from __future__ import annotations

from datetime import date

from django.conf import settings

from traywise.record.child import Child
from traywise.rulebook.vaccines import Vaccine, vaccines
from traywise.schedule.assess import assess
from traywise.screening.screen import screen
from traywise.tray.blocks import blocks_of
from traywise.tray.fit import Refusal, Serving, fit
from traywise.tray.need import ASKABLE, WANTED, Need, need_of


def need_now(child: Child, on: date, agreed: frozenset[str] = frozenset()) -> Need:
    """What the child needs and what stands against it.

    agreed  groups left to the clinician that stand on the laid tray
    """
    answer = assess(child, settings.EDITION, on)
    groups = [
        group
        for group, forecast in answer.groups.items()
        if forecast.status in WANTED or forecast.status == ASKABLE
    ]
    found = screen(child, on, groups, tuple(vaccines().values()))
    return need_of(child, on, answer, blocked=blocks_of(found.findings), asked=agreed)


def may_give(need: Need, vaccine: Vaccine, presentation: str) -> Serving | Refusal | None:
    """A serving, or the rule that refuses: age, interval, contraindication, line and the rest."""
    return fit(need, vaccine, presentation)
