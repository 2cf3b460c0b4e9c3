"""Both gaits on the same invented children: plain functions one by one, compiled all at once.

    python tools/compare_gaits.py 200000            in fresh processes, one per core
    python tools/compare_gaits.py 2000 --workers 0  in this process

Prints how many children differ and a digest of all answers; exit status 1 when any differs.
The children are stirred: entries out of order, doses before birth and after the day,
antibody products, conditions with and without their days.
"""

from __future__ import annotations

import argparse
import hashlib
import multiprocessing
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from datetime import date, timedelta
from random import Random
from typing import Any

import pyarrow as pa

from traywise.population.answer_columns import FIELDS, answer_schema, write_answers
from traywise.population.arrays import rules_of
from traywise.population.batches import (
    CHILDREN,
    EPOCH,
    read_children,
)
from traywise.population.kernel import answer
from traywise.population.make import make_children
from traywise.record.child import Child, Condition, CvxCode, DoseGiven, ProductReceived
from traywise.rulebook.antibody_products import antibody_products
from traywise.schedule.assess import assess
from traywise.schedule.compile import compiled

ON = date(2026, 11, 24)
SHARD = 5_000
DATED = (
    "haematopoietic-transplant",
    "chemotherapy",
    "radiotherapy",
    "pregnant",
    "wound-other",
    "wound-clean-minor",
)
"""Conditions whose days the rows refer to; strewn in more often than they occur."""


def _some_day(random: Random, born: date, life: int) -> date | None:
    """A day of a life, or a little after the day of the answer; often none."""
    if random.random() < 0.4:
        return None
    return born + timedelta(days=random.randrange(life + 60))


def stirred_children(number: int, count: int, seed: int) -> list[dict[str, Any]]:
    """Invented children as rows, made harder."""
    random = Random(f"{seed} {number}")
    kinds = sorted(antibody_products())
    rows: list[dict[str, Any]] = make_children(number, count, seed, ON).to_pylist()
    for row in rows:
        doses = list(zip(row["dose_on"], row["dose_cvx"], strict=True))
        if doses and random.random() < 0.3:
            random.shuffle(doses)
        if random.random() < 0.02:
            doses.append((row["born"] - timedelta(days=random.randint(1, 400)), 8))
            doses.append((ON + timedelta(days=random.randint(1, 400)), 3))
        row["dose_on"] = [day for day, _ in doses]
        row["dose_cvx"] = [code for _, code in doses]
        received = random.randint(1, 2) if random.random() < 0.08 else 0
        life = max(1, (ON - row["born"]).days)
        row["product_on"] = [
            row["born"] + timedelta(days=random.randrange(life)) for _ in range(received)
        ]
        row["product_kind"] = [random.choice(kinds) for _ in range(received)]
        if random.random() < 0.06:
            row["conditions"] += random.choices(DATED, k=random.randint(1, 2))
        row["condition_from"] = [_some_day(random, row["born"], life) for _ in row["conditions"]]
        row["condition_until"] = [
            first + timedelta(days=random.randint(0, 400))
            if first and random.random() < 0.5
            else _some_day(random, row["born"], life)
            for first in row["condition_from"]
        ]
    return rows


def child_of(row: dict[str, Any]) -> Child:
    """A row of a population as the record of one child."""
    return Child(
        id=row["id"],
        born=row["born"],
        sex=row["sex"],
        gestation_weeks=row["gestation_weeks"],
        birth_weight_g=row["birth_weight_g"],
        doses=tuple(
            DoseGiven(on=day, cvx=CvxCode(f"{code:02d}"))
            for day, code in zip(row["dose_on"], row["dose_cvx"], strict=True)
        ),
        conditions=tuple(
            Condition(key=key, since=first, until=last)
            for key, first, last in zip(
                row["conditions"], row["condition_from"], row["condition_until"], strict=True
            )
        ),
        products=tuple(
            ProductReceived(on=day, kind=kind)
            for day, kind in zip(row["product_on"], row["product_kind"], strict=True)
        ),
    )


def compiled_answers(rows: list[dict[str, Any]], edition: str) -> list[dict[str, Any]]:
    """The population's answers, a row a child."""
    batch = pa.RecordBatch.from_pylist(rows, schema=CHILDREN)
    rules = rules_of(edition)
    children, _ = read_children(batch, rules, compiled(edition), ON)
    answers = answer(children, rules, ON.toordinal() - EPOCH)
    found: list[dict[str, Any]] = write_answers(
        batch, answers, answer_schema(rules.groups, {})
    ).to_pylist()
    return found


def plain_answer(row: dict[str, Any], edition: str) -> dict[str, Any]:
    """One child's answer by the plain functions, in the columns of a population."""
    found: dict[str, Any] = {"id": row["id"], "born": row["born"]}
    for group, forecast in assess(child_of(row), edition, ON).groups.items():
        found |= {f"{group}_{field}": getattr(forecast, field) for field in FIELDS}
    return found


def differences(number: int, count: int, seed: int, edition: str) -> tuple[list[str], str]:
    """Differing children of one shard in words, and a digest of the compiled answers."""
    rows = stirred_children(number, count, seed)
    found, digest = [], hashlib.sha256()
    for row, many in zip(rows, compiled_answers(rows, edition), strict=True):
        digest.update(repr(many).encode())
        one = plain_answer(row, edition)
        if one != many:
            apart = {key: (one[key], many[key]) for key in one if one[key] != many[key]}
            found.append(f"{row['id']}: {apart}")
    return found, digest.hexdigest()


def _shard(work: tuple[int, int, int, str]) -> tuple[list[str], str]:
    return differences(*work)


def main() -> int:
    parser = argparse.ArgumentParser(description="Compare one child and population.")
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--edition", default="us-2025")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    given = parser.parse_args()
    work = [
        (number, min(SHARD, given.count - number * SHARD), given.seed, given.edition)
        for number in range(-(-given.count // SHARD))
    ]
    if given.workers:
        fresh = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(given.workers, mp_context=fresh) as pool:
            results = list(pool.map(_shard, work))
    else:
        results = [_shard(one) for one in work]
    found = [line for lines, _ in results for line in lines]
    digest = hashlib.sha256("".join(one for _, one in results).encode()).hexdigest()[:16]
    for line in found[:10]:
        print(line)
    print(f"{len(found)} of {given.count} children differ; answers {digest}")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
