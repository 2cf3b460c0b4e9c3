"""Plans a session: offers, program, optimum, and everything the clinic needs of it."""

from __future__ import annotations

import time
from collections.abc import Mapping

from traywise.session.deal import deal
from traywise.session.missed import missed_of
from traywise.session.model import STAGES, build_model
from traywise.session.offers import offers_of
from traywise.session.one_by_one import plan_one_by_one
from traywise.session.plan import SessionPlan, Visit
from traywise.session.report import expiring_of, finish_of, pick_list_of, reorder_of
from traywise.session.request import Session
from traywise.session.solve import Progress, StageResult, solve
from traywise.session.timeline import timeline_of
from traywise.shelf.reorder import StockLevels


def plan_session(
    session: Session,
    *,
    seconds: float = 20.0,
    progress: Progress | None = None,
    levels: Mapping[str, StockLevels] | None = None,
    optimise: bool = True,
) -> SessionPlan:
    """The best plan found within the time, with its proof or its gap.

    seconds   for the search
    progress  called with a line for each stage
    levels    reorder levels by vaccine key, for the reorder list
    optimise  False: child by child, as a clinic does without a plan
    """
    began = time.monotonic()
    offers = offers_of(session)
    model = build_model(session, offers)
    values = plan_one_by_one(session, offers, model)
    one_by_one = {
        stage: sum(cost * values[column] for column, cost in costs.items())
        for stage, costs in zip(STAGES, model.stages, strict=True)
    }
    stages: tuple[StageResult, ...] = ()
    proven, gap = False, 1.0
    if optimise:
        solution = solve(model, values, seconds, progress)
        values, stages, proven = solution.values, solution.stages, solution.proven
        gap = max((result.gap for result in stages), default=0.0)
    picks = deal(session, offers, model, values)
    missed = missed_of(session, offers, picks)
    timeline, leftovers = timeline_of(session, picks)
    visits = tuple(
        Visit(
            child=child.id,
            name=child.need.child.name,
            at=at,
            minutes=session.minutes_of(sum(pick.injections for pick in own)),
            picks=own,
            missed=lacking,
        )
        for child, at, own, lacking in zip(
            session.children, session.times, picks, missed, strict=True
        )
    )
    return SessionPlan(
        on=session.on,
        start=session.start,
        end=session.end,
        vaccinators=session.vaccinators,
        visits=visits,
        pick_list=pick_list_of(session, picks, timeline),
        timeline=timeline,
        leftovers=leftovers,
        expiring=expiring_of(session, picks),
        reorder=reorder_of(session, picks, missed, levels),
        stages=stages,
        one_by_one=one_by_one,
        proven=proven,
        gap=gap,
        seconds=time.monotonic() - began,
        finish=finish_of(session, picks),
    )
