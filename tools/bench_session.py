"""Measures the session plan: quality against child by child, and time, on invented sessions.

Usage: ``python tools/bench_session.py [--sessions 100] [--json]``. All figures come from one
run on one machine; quality is given as ratios, so that machines do not matter.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.invented_session import invent_session

from traywise.session import check_plan, plan_session


def quality(sessions: int) -> dict[str, float]:
    """Joint planning against child by child: points, doses, injections, waste, as ratios."""
    joint, alone, broken = [], [], 0
    for seed in range(sessions):
        session = invent_session(
            seed, 40, 60, short=(0.5, 0.8, 1.2)[seed % 3], vaccinators=2 + seed % 3
        )
        plans = plan_session(session), plan_session(session, optimise=False)
        broken += sum(bool(check_plan(session, plan)) for plan in plans)
        for found, plan in zip((joint, alone), plans, strict=True):
            found.append(
                (
                    plan.doses,
                    plan.injections,
                    sum(entry.doses for entry in plan.leftovers),
                    sum(entry.doses for entry in plan.expiring),
                )
            )
    totals = [[sum(column) for column in zip(*found, strict=True)] for found in (joint, alone)]
    better = sum(a[0] > b[0] for a, b in zip(joint, alone, strict=True))
    worse = sum(a[0] < b[0] for a, b in zip(joint, alone, strict=True))
    (doses, injections, left, expiring), (doses1, injections1, left1, expiring1) = totals
    return {
        "sessions": sessions,
        "doses_joint_to_alone": round(doses / doses1, 4),
        "injections_a_dose_joint_to_alone": round((injections / doses) / (injections1 / doses1), 4),
        "doses_left_in_opened_vials_joint_to_alone": round(left / left1, 4) if left1 else 1.0,
        "expiring_doses_left_joint_to_alone": round(expiring / expiring1, 4) if expiring1 else 1.0,
        "sessions_with_more_doses": better,
        "sessions_with_fewer_doses_for_weightier_ones": worse,
        "plans_that_break_a_rule": broken,
    }


def speed() -> dict[str, float | bool]:
    """Seconds to the proven optimum of 200 children, and to a plan within two seconds."""
    times, proven = [], True
    for seed in (1, 2, 3):
        began = time.perf_counter()
        plan = plan_session(invent_session(seed, 200, 120, vaccinators=14), seconds=20)
        times.append(time.perf_counter() - began)
        proven = proven and plan.proven
    session = invent_session(1, 200, 120, vaccinators=14)
    began = time.perf_counter()
    plan_session(session, optimise=False)
    first = time.perf_counter() - began
    began = time.perf_counter()
    quick = plan_session(session, seconds=1.5)
    return {
        "seconds_200_children_median": round(statistics.median(times), 2),
        "seconds_200_children_most": round(max(times), 2),
        "all_proven": proven,
        "seconds_child_by_child": round(first, 2),
        "gap_after_1.5_seconds": round(quick.gap, 5),
        "seconds_of_that": round(time.perf_counter() - began, 2),
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=100)
    parser.add_argument("--json", action="store_true")
    chosen = parser.parse_args()
    figures = {**quality(chosen.sessions), **speed()}
    if chosen.json:
        print(json.dumps(figures))
    else:
        for name, value in figures.items():
            print(f"{name.replace('_', ' '):45} {value}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
