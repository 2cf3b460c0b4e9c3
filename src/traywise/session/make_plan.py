"""Plans a session: offers, program, optimum, and everything the clinic needs of it."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence

from traywise.session.deal import Picks, deal
from traywise.session.missed import missed_of
from traywise.session.model import STAGES, Model, build_model
from traywise.session.offers import offers_of
from traywise.session.one_by_one import plan_one_by_one
from traywise.session.plan import Missed, SessionPlan, Visit
from traywise.session.report import expiring_of, finish_of, pick_list_of, reorder_of
from traywise.session.request import Session
from traywise.session.solve import Progress, solve
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
    alone = plan_one_by_one(session, offers, model)
    solution = solve(model, alone, seconds, progress) if optimise else None
    picks = deal(session, offers, model, alone if solution is None else solution.values)
    missed = missed_of(session, offers, picks)
    timeline, leftovers = timeline_of(session, picks)
    stages = () if solution is None else solution.stages
    return SessionPlan(
        on=session.on,
        start=session.start,
        end=session.end,
        vaccinators=session.vaccinators,
        visits=_visits(session, picks, missed),
        pick_list=pick_list_of(session, picks, timeline),
        timeline=timeline,
        leftovers=leftovers,
        expiring=expiring_of(session, picks),
        reorder=reorder_of(session, picks, missed, levels),
        stages=stages,
        one_by_one=_costs(model, alone),
        proven=solution is not None and solution.proven,
        # Without a search nothing is known of how far the plan is from the best.
        gap=1.0 if solution is None else max((one.gap for one in stages), default=0.0),
        seconds=time.monotonic() - began,
        finish=finish_of(session, picks),
    )


def _costs(model: Model, values: Sequence[int]) -> dict[str, int]:
    """What a plan costs by each criterion."""
    return {
        stage: sum(cost * values[column] for column, cost in costs.items())
        for stage, costs in zip(STAGES, model.stages, strict=True)
    }


def _visits(
    session: Session, picks: Sequence[Picks], missed: Sequence[tuple[Missed, ...]]
) -> tuple[Visit, ...]:
    """Each child of the session with what it gets and what it misses."""
    return tuple(
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
