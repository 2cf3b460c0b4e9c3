"""Which measured children stand for this child, and the tissue they give.

Between measured ages the means are taken from a straight line, and so is the ratio of
SD to mean. Muscle is never carried beyond the last measured age. Where a weight is given
in the first 80 days, the depth of bone comes from children of that weight.
"""

from __future__ import annotations

from itertools import pairwise

import msgspec

from traywise.equipment.reach.probability import Tissue
from traywise.equipment.reach.studies import StudyRow, setting, studies

MEASURED = "measured"
INTERPOLATED = "interpolated"


class Found(msgspec.Struct, frozen=True, kw_only=True):
    """The tissue, the rows it comes from, and how near their age is to the one asked for."""

    tissue: Tissue
    rows: tuple[StudyRow, ...]
    evidence: str
    age_gap_months: float
    unknown: tuple[str, ...] = ()


class Missing(msgspec.Struct, frozen=True):
    """No measured children stand for this child; why."""

    why: str


def find_tissue(site: str, age_months: float, weight_kg: float | None) -> Found | Missing:
    """The tissue of a child; ``site`` is "thigh" or "deltoid"."""
    if weight_kg is not None and weight_kg < lightest_measured_kg():
        return Missing(f"No child under {lightest_measured_kg():g} kg was measured.")
    return (_find_deltoid if site == "deltoid" else _find_thigh)(age_months, weight_kg)


def lightest_measured_kg() -> float:
    """Weight below which no child was measured anywhere."""
    return min(row.kg_from for row in studies().values() if row.kg_from is not None)


def _anchors(site: str) -> list[StudyRow]:
    return [row for row in studies().values() if row.role == "anchor" and row.site == site]


def newborn_row(site: str, weight_kg: float | None) -> StudyRow:
    """The newborns that stand for a weight; term newborns when the weight is unknown."""
    rows = [row for row in _anchors(site) if row.age_to_months == 0]
    if weight_kg is None:
        return max(rows, key=lambda row: row.kg_from or 0.0)
    return next(row for row in rows if row.fits_weight(weight_kg))


def _unknown_weight(site: str, age_months: float) -> tuple[str, ...]:
    if age_months <= setting("newborn-to-months"):
        return (
            "Weight not given: these are term newborns. Below 2.5 kg both layers are thinner, "
            "and a needle reaches bone depth sooner.",
        )
    if site == "thigh" and age_months <= _last_weight_age():
        return (
            "Weight not given: in the first 80 days it moves the depth of bone by several "
            "millimetres, so it would change these shares.",
        )
    return ()


def _last_weight_age() -> float:
    return max(row.age_to_months for row in studies().values() if row.role == "weight")


def _find_deltoid(age_months: float, weight_kg: float | None) -> Found | Missing:
    if age_months <= setting("newborn-to-months"):
        row = newborn_row("deltoid", weight_kg)
    else:
        older = [
            row
            for row in _anchors("deltoid")
            if row.age_from_months <= age_months <= row.age_to_months and row.age_to_months > 0
        ]
        if not older:
            return Missing(
                "Skin to muscle and muscle thickness at the deltoid were published together only "
                "for newborns and for 2 to 15 months."
            )
        row = older[0]
    unknown = _unknown_weight("deltoid", age_months) if weight_kg is None else ()
    return Found(
        tissue=tissue_of(row),
        rows=(row,),
        evidence=MEASURED,
        age_gap_months=max(0.0, age_months - row.age_to_months),
        unknown=unknown,
    )


def _find_thigh(age_months: float, weight_kg: float | None) -> Found | Missing:
    if age_months > setting("muscle-known-to-months"):
        return Missing(
            "No thickness of the thigh muscle was published beyond 19 months, so the share in "
            "muscle and at bone depth is unknown."
        )
    newborns = newborn_row("thigh", weight_kg)
    anchors = [newborns, *(row for row in _anchors("thigh") if row.age_from_months > 0)]
    gap = min(abs(age_months - row.age_from_months) for row in anchors)
    # Inside the window a child counts as of the measured age, but its figures still slide.
    measured = gap <= setting("anchor-window-months") or age_months > anchors[-1].age_to_months
    base = _on_the_line(anchors, age_months)
    by_weight = _weight_row(age_months, weight_kg)
    if by_weight is not None:
        base = (_with_bone_of(base[0], by_weight), (by_weight, *base[1]))
    return Found(
        tissue=base[0],
        rows=base[1],
        evidence=MEASURED if measured else INTERPOLATED,
        age_gap_months=round(gap, 2),
        unknown=_unknown_weight("thigh", age_months) if weight_kg is None else (),
    )


def _weight_row(age_months: float, weight_kg: float | None) -> StudyRow | None:
    if weight_kg is None or age_months > _last_weight_age():
        return None
    if age_months <= setting("newborn-to-months"):
        small = newborn_row("thigh", weight_kg)
        if small.kg_before is not None:
            return None  # the small newborns were measured in both layers themselves
    rows = [row for row in studies().values() if row.role == "weight"]
    return next((row for row in rows if row.fits_weight(weight_kg)), None)


def tissue_of(row: StudyRow) -> Tissue:
    """The tissue one row gives by itself."""
    skin_to_muscle_mm = row.skin_to_muscle_mm
    if skin_to_muscle_mm is None or row.s_sd_mm is None:
        raise ValueError(f'row "{row.key}" has no skin to muscle of its own')
    return Tissue(
        s_mm=skin_to_muscle_mm,
        s_sd_mm=row.s_sd_mm,
        m_mm=row.m_mm,
        m_sd_mm=row.m_sd_mm,
        t_mm=row.t_mm,
        t_sd_mm=row.t_sd_mm,
        children_s=row.children,
        children_t=row.children,
    )


def _with_bone_of(base: Tissue, row: StudyRow) -> Tissue:
    return msgspec.structs.replace(
        base,
        m_mm=None,
        m_sd_mm=None,
        t_mm=row.t_mm,
        t_sd_mm=row.t_sd_mm,
        children_t=row.children,
    )


def _on_the_line(anchors: list[StudyRow], age: float) -> tuple[Tissue, tuple[StudyRow, ...]]:
    """The tissue at an age, and the one or two anchors it lies between."""
    for row in anchors:
        if age == row.age_from_months:
            return tissue_of(row), (row,)
    for younger, older in pairwise(anchors):
        if younger.age_from_months < age < older.age_from_months:
            along = (age - younger.age_from_months) / (
                older.age_from_months - younger.age_from_months
            )
            return _between(tissue_of(younger), tissue_of(older), along), (younger, older)
    return tissue_of(anchors[-1]), (anchors[-1],)


def _between(younger: Tissue, older: Tissue, along: float) -> Tissue:
    s_mm, s_sd_mm = _slide((younger.s_mm, younger.s_sd_mm), (older.s_mm, older.s_sd_mm), along)
    m_mm, m_sd_mm = _slide(
        (younger.m_mm or 0.0, younger.m_sd_mm or 0.0),
        (older.m_mm or 0.0, older.m_sd_mm or 0.0),
        along,
    )
    # The smaller group sets the sampling error: nobody of the age itself was measured.
    fewest = min(younger.children_s or 0, older.children_s or 0)
    return Tissue(
        s_mm=s_mm,
        s_sd_mm=s_sd_mm,
        m_mm=m_mm,
        m_sd_mm=m_sd_mm,
        children_s=fewest,
        children_t=fewest,
    )


def _slide(
    younger: tuple[float, float], older: tuple[float, float], along: float
) -> tuple[float, float]:
    """Mean on a straight line; SD from the ratio of SD to mean on a straight line."""
    mean = younger[0] + along * (older[0] - younger[0])
    ratio = younger[1] / younger[0] + along * (older[1] / older[0] - younger[1] / younger[0])
    return mean, mean * ratio
