"""Which needles the table allows at a site for this child, best first, and why.

The first fitting row of the policy wins. What is not recorded (weight, sex, weeks of
gestation) and would change the length is named together with what it would change.
"""

from __future__ import annotations

import msgspec

from traywise.equipment.body import Body
from traywise.equipment.place import Needle
from traywise.equipment.policy import policy_chain
from traywise.equipment.tables import (
    NeedleRow,
    inch_rows,
    rules,
    sites,
)


class NeedleChoice(msgspec.Struct, frozen=True, kw_only=True):
    """The row that fits and its needles, best first.

    Empty where a bleeding limit leaves none, or where a device takes the place of the needle.
    """

    row: NeedleRow
    needles: tuple[Needle, ...]
    missing: tuple[str, ...] = ()

    @property
    def usable(self) -> bool:
        return bool(self.needles or self.row.device)


def choose_needles(
    body: Body,
    route: str,
    site: str,
    policy: str,
    *,
    thick: bool = False,
    finest_from: int | None = None,
) -> NeedleChoice | None:
    """The allowed needles; None where no row of the policy lists the site for this child.

    thick        the liquid wants a wider needle: those come first
    finest_from  only this gauge number and finer (bleeding disorder)
    """
    rows = _rows_at(body, route, site, policy)
    row = next((row for row in rows if _fits(row, body)), None)
    if row is None:
        return None
    gauges = [g for g in row.gauges if finest_from is None or g >= finest_from]
    if thick:
        gauges.sort(key=lambda gauge: gauge > rules()["thick-gauge"].value)
    needles = tuple(
        Needle(gauge=gauge, length_mm=length) for length in by_preference(row) for gauge in gauges
    )
    return NeedleChoice(row=row, needles=needles, missing=_name_missing(rows, row, body))


def _rows_at(body: Body, route: str, site: str, policy: str) -> list[NeedleRow]:
    """Rows of the first policy in the chain that lists this route and site at all."""
    for listed in policy_chain(policy):
        found = [row for row in listed.needles if row.route == route and row.site == site]
        if found:
            return [row for row in found if body.in_age(row.age_from, row.age_before)]
    return []


def _fits(row: NeedleRow, body: Body) -> bool:
    return (
        (row.sex is None or row.sex == body.sex)
        and (row.born_before_weeks is None or body.born_before(row.born_before_weeks) is True)
        and row.fits_weight(body.weight_kg)
    )


def by_preference(row: NeedleRow) -> list[int]:
    """Lengths of the row: the default, then longer ones, then shorter ones."""
    longer = sorted(mm for mm in row.lengths_mm if mm > row.default_mm)
    shorter = sorted((mm for mm in row.lengths_mm if mm < row.default_mm), reverse=True)
    return [row.default_mm, *longer, *shorter]


def _name_missing(rows: list[NeedleRow], chosen: NeedleRow, body: Body) -> tuple[str, ...]:
    """What is not recorded and would lead to other lengths, with the lengths."""
    said: list[str] = []
    others = [row for row in rows if row.key != chosen.key and _differs(row, chosen)]
    weighed = [r for r in others if r.limits_weight and r.sex in (None, body.sex or r.sex)]
    if body.weight_kg is None and weighed:
        said.append(
            f"Weight is not recorded. For the {sites()[chosen.site].name} it would change the "
            "length: " + "; ".join(f"{_kg_text(row)}: {lengths_text(row)}" for row in weighed) + "."
        )
    elif body.sex is None:
        by_sex = [row for row in others if row.sex and row.fits_weight(body.weight_kg)]
        if by_sex:
            said.append(
                "Sex is not recorded as F or M: for a girl of this weight it would be "
                f"{lengths_text(by_sex[0])}."
            )
    for row in others:
        weeks = row.born_before_weeks
        if weeks is not None and body.born_before(weeks) is None:
            said.append(
                f"Weeks of gestation are not recorded: if born before {weeks} weeks, "
                f"{lengths_text(row)}."
            )
    return tuple(said)


def _differs(row: NeedleRow, chosen: NeedleRow) -> bool:
    return (row.lengths_mm, row.default_mm) != (chosen.lengths_mm, chosen.default_mm)


def _kg_text(row: NeedleRow) -> str:
    parts = []
    if row.sex:
        parts.append("girl" if row.sex == "F" else "boy")
    low, high = row.kg_from, row.kg_before if row.kg_before is not None else row.kg_to
    if row.kg_above is not None:
        parts.append(f"over {row.kg_above:g} kg")
    elif low is not None and high is not None:
        parts.append(f"{low:g} to {high:g} kg")
    elif low is not None:
        parts.append(f"from {low:g} kg")
    else:
        parts.append(f"under {high:g} kg")
    return " ".join(parts)


def lengths_text(row: NeedleRow) -> str:
    """The lengths of a row in words: "16 or 25 mm, 25 mm first"."""
    text = " or ".join(str(mm) for mm in sorted(row.lengths_mm)) + " mm"
    return text if len(row.lengths_mm) == 1 else f"{text}, {row.default_mm} mm first"


def needle_text(needle: Needle) -> str:
    """A needle as the trade says it.

    >>> needle_text(Needle(gauge=25, length_mm=16))
    '25 G × 16 mm (5/8 in)'
    """
    inches = next((row.inches for row in inch_rows() if row.mm == needle.length_mm), None)
    return f"{needle}" + (f" ({inches})" if inches else "")
