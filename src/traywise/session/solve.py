"""Solves the program stage by stage with HiGHS: a proven optimum, or the gap that is left.

Stages whose figures are small enough are solved together, the earlier one weighing more
than all that the later one can reach: one search is much quicker than one search for each
stage among the plans that are equal in the stages before.

highspy brings numpy, so it is imported only when a session is solved.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from math import inf

import msgspec

from traywise.session.model import STAGES, Model

Progress = Callable[[str], None]

# Beyond this, whole numbers would drown in the solver's rounding.
_MOST = 200_000_000


class StageResult(msgspec.Struct, frozen=True, kw_only=True):
    """How one stage ended. ``bound``: no plan can be better; None: none was found in time.

    gap  distance to the bound as a share of the value, 1 at most and where there is no
         bound; 0 when the optimum is proven
    """

    stage: str
    value: int
    bound: float | None
    proven: bool
    seconds: float

    @property
    def gap(self) -> float:
        if self.proven:
            return 0.0
        if self.bound is None:
            return 1.0
        return min(1.0, abs(self.value - self.bound) / max(1.0, abs(self.value)))


class Solution(msgspec.Struct, frozen=True, kw_only=True):
    """Column values of the best plan and how each stage ended."""

    values: tuple[int, ...]
    stages: tuple[StageResult, ...]

    @property
    def proven(self) -> bool:
        return all(stage.proven for stage in self.stages)


def solve(
    model: Model,
    start: Sequence[int] | None = None,
    seconds: float = 20.0,
    progress: Progress | None = None,
) -> Solution:
    """The best plan within the time.

    start     column values of a plan to fall back on (child by child); None: nothing given
    seconds   for all stages together
    progress  called with one line for each stage
    """
    deadline = time.monotonic() + seconds
    values = tuple(start) if start is not None else (0,) * len(model.tops)
    results: list[StageResult] = []
    groups = _groups(model)
    if not groups:
        return Solution(values=values, stages=())
    highs = _load(model)
    for number, group in enumerate(groups):
        began = time.monotonic()
        # An unfinished search leaves its share of the time to the stages after it.
        share = (deadline - began) / (len(groups) - number)
        allowed = share if number else share * 2
        costs = _together(model, group)
        values, bound, proven = _minimise(
            highs, model, costs, values, min(allowed, deadline - began)
        )
        for stage, weight in group:
            value = _value(model.stages[stage], values)
            # Only the first stage of a group can be bounded when the search was cut short.
            known = stage == group[0][0] and abs(bound) < inf
            first = bound / weight if known else None
            results.append(
                StageResult(
                    stage=STAGES[stage],
                    value=value,
                    bound=value if proven else first,
                    proven=proven,
                    seconds=time.monotonic() - began,
                )
            )
            _hold(highs, model.stages[stage], value)
            if progress is not None:
                progress(f"{STAGES[stage]}: {value}" + ("" if proven else ", not proven the best"))
    return Solution(values=values, stages=tuple(results))


def _groups(model: Model) -> list[list[tuple[int, int]]]:
    """Stages to be solved together, each with the weight of its figures."""
    groups: list[list[tuple[int, int]]] = []
    size = 0
    for stage, costs in enumerate(model.stages):
        if not costs:
            continue
        reach = model.reach[stage] + 1
        if groups and len(groups[-1]) < 2 and size * reach <= _MOST:
            groups[-1] = [(earlier, weight * reach) for earlier, weight in groups[-1]]
            groups[-1].append((stage, 1))
            size *= reach
        else:
            groups.append([(stage, 1)])
            size = reach
    return groups


def _together(model: Model, group: list[tuple[int, int]]) -> dict[int, int]:
    costs: dict[int, int] = {}
    for stage, weight in group:
        for column, cost in model.stages[stage].items():
            costs[column] = costs.get(column, 0) + weight * cost
    return costs


def _value(costs: dict[int, int], values: Sequence[int]) -> int:
    return sum(cost * values[column] for column, cost in costs.items())


def _load(model: Model):  # type: ignore[no-untyped-def]
    import highspy

    class Quiet(highspy.Highs):
        """Silent from the first line on: the banner would break JSON on standard output."""

        def enableCallbacks(self) -> None:  # noqa: N802 - HiGHS's own name
            self.setOptionValue("output_flag", False)
            super().enableCallbacks()  # type: ignore[no-untyped-call]

    highs = Quiet()  # type: ignore[no-untyped-call]
    highs.setOptionValue("threads", 1)  # the same plan every time, on every machine
    highs.setOptionValue("random_seed", 1)
    highs.setOptionValue("mip_rel_gap", 0.0)
    for top in model.tops:
        highs.addCol(0.0, 0.0, float(top), 0, [], [])
    for column in range(len(model.tops)):
        highs.changeColIntegrality(column, highspy.HighsVarType.kInteger)
    for row in model.rows:
        low = -highspy.kHighsInf if row.low == -inf else row.low
        high = highspy.kHighsInf if row.high == inf else row.high
        highs.addRow(low, high, len(row.columns), list(row.columns), list(row.values))
    return highs


def _minimise(  # type: ignore[no-untyped-def]
    highs, model: Model, costs: dict[int, int], start: Sequence[int], seconds: float
) -> tuple[tuple[int, ...], float, bool]:
    """Values, bound and whether it is proven; the start when nothing better was found in time."""
    import highspy

    if seconds <= 0.05:
        return tuple(start), -inf, False
    for column in range(len(model.tops)):
        highs.changeColCost(column, float(costs.get(column, 0)))
    highs.setOptionValue("time_limit", float(seconds) + highs.getRunTime())
    # All costs are whole: a plan within less than 1 of the bound is the best one.
    highs.setOptionValue("mip_abs_gap", 0.99)
    # The start is not handed to the solver: with presolve on, release 1.16 gave it back with
    # a figure it does not have, and called that the optimum.
    highs.clearSolver()
    highs.run()
    status = highs.getModelStatus()
    info = highs.getInfo()
    found = highs.getSolution()
    proven = status == highspy.HighsModelStatus.kOptimal
    if not found.value_valid or info.primal_solution_status != 2:
        return tuple(start), info.mip_dual_bound, False
    values = tuple(round(value) for value in found.col_value)
    if abs(_value(costs, values) - info.objective_function_value) > 0.5 or _breaks_a_row(
        model, values
    ):
        return tuple(start), -inf, False
    if _value(costs, values) > _value(costs, start):
        return tuple(start), info.mip_dual_bound, False
    return values, info.mip_dual_bound, proven


def _breaks_a_row(model: Model, values: Sequence[int]) -> bool:
    """Whether the rounded values are no plan: what the solver says is not taken on trust."""
    for row in model.rows:
        total = sum(
            value * values[column] for column, value in zip(row.columns, row.values, strict=True)
        )
        if not row.low - 1e-6 <= total <= row.high + 1e-6:
            return True
    return False


def _hold(highs, costs: dict[int, int], value: int) -> None:  # type: ignore[no-untyped-def]
    """Later stages may not do worse in this one."""
    import highspy

    columns = sorted(costs)
    highs.addRow(
        -highspy.kHighsInf,
        value + 0.01,  # values are whole; a little room for rounding
        len(columns),
        columns,
        [float(costs[column]) for column in columns],
    )
