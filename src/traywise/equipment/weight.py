"""Whether a typed weight can be this child's, which slip would explain it, what its lack means.

A weight far from the median is compared with what it would be if a common slip were undone
(pounds, grams, decimal point), and with the last weighing. Nothing is ever corrected here:
the answer is a question to whoever typed it.
"""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.equipment.growth import Lms, lms_at, weight_at, z_score
from traywise.equipment.reach.answer import middle_shares
from traywise.equipment.reach.studies import SettingRow, studies
from traywise.errors import Fault
from traywise.rulebook.tables import load_table

PLAUSIBLE, ASK, UNUSUAL, NO_REFERENCE = "plausible", "ask", "unusual", "no reference"


class SlipRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One slip; ``factor`` turns what was typed into kilograms."""

    key: str
    factor: float
    words: str
    source: str


class Explanation(msgspec.Struct, frozen=True, kw_only=True):
    """A slip that would explain the typed weight, and the weight it leads to."""

    slip: str
    words: str
    weight_kg: float
    z: float


class LastWeight(msgspec.Struct, frozen=True, kw_only=True):
    """An earlier weighing of the same child."""

    weight_kg: float
    age_days: float


class WeightCheck(msgspec.Struct, frozen=True, kw_only=True):
    """plausible; ask (a slip would explain it); unusual (far out, no slip); or no reference.

    z             of the typed weight, the sex nearer to it where the sex is unknown
    explanations  slips that would explain it, likeliest first
    fault         what to show beside the field; None when plausible
    """

    verdict: str
    text: str
    z: float | None = None
    explanations: tuple[Explanation, ...] = ()
    fault: Fault | None = None
    unknown: tuple[str, ...] = ()


@cache
def _slips() -> tuple[SlipRow, ...]:
    return load_table("weight-slips", SlipRow)


@cache
def _limits() -> dict[str, float]:
    return {row.key: row.value for row in load_table("weight-limits", SettingRow)}


def check_weight(
    weight_kg: float,
    age_days: float,
    sex: str | None,
    *,
    gestation_weeks: int | None = None,
    last: LastWeight | None = None,
    at: str = "weight_kg",
) -> WeightCheck:
    """Judge a typed weight in kilograms for an age in days.

    sex              F, M, X or None; without F or M both references are tried
    gestation_weeks  completed weeks; below 37 the age is corrected until two years
    at               place named in the fault

    >>> check = check_weight(25, 517, "F")
    >>> check.verdict, check.explanations[0].slip, round(check.z, 1)
    ('ask', 'pounds', 8.5)
    """
    unknown = [] if sex in ("F", "M") else ["Sex not given: the nearer of both references is used."]
    if gestation_weeks is None and age_days < _limits()["corrected-until-days"]:
        unknown.append("Weeks of gestation not given: the age was not corrected.")
    references = _references(_corrected_days(age_days, gestation_weeks), sex)
    if not references or weight_kg <= 0:
        return WeightCheck(
            verdict=NO_REFERENCE,
            text="No open reference covers this age or weight, so the weight was not judged.",
            unknown=tuple(unknown),
        )
    z = _nearest_z(weight_kg, references)
    explanations = _explain(weight_kg, z, references, _expected_now(last, sex, references))
    verdict = ASK if explanations else UNUSUAL if abs(z) >= _limits()["far-z"] else PLAUSIBLE
    text = _say(weight_kg, z, verdict, explanations, references[0].reference)
    codes = {ASK: "equipment.W121", UNUSUAL: "equipment.W122"}
    return WeightCheck(
        verdict=verdict,
        text=text,
        z=z,
        explanations=explanations,
        fault=Fault(codes[verdict], at, text) if verdict in codes else None,
        unknown=tuple(unknown),
    )


def is_preterm(gestation_weeks: int) -> bool:
    """Whether so many completed weeks are preterm, by the limit of ``weight-limits.toml``.

    >>> is_preterm(36), is_preterm(37)
    (True, False)
    """
    return gestation_weeks < _limits()["preterm-before-weeks"]


def _corrected_days(age_days: float, gestation_weeks: int | None) -> float:
    limits = _limits()
    if gestation_weeks is None or not is_preterm(gestation_weeks):
        return age_days
    if age_days >= limits["corrected-until-days"]:
        return age_days
    return age_days - 7 * (limits["term-weeks"] - gestation_weeks)


def _references(age_days: float, sex: str | None) -> list[Lms]:
    sexes = (sex,) if sex in ("F", "M") else ("F", "M")
    found = (lms_at(age_days, each) for each in sexes if each)
    return [lms for lms in found if lms is not None]


def _nearest_z(weight_kg: float, references: list[Lms]) -> float:
    return min((z_score(weight_kg, lms) for lms in references), key=abs)


def _expected_now(last: LastWeight | None, sex: str | None, references: list[Lms]) -> float | None:
    """Weight now if the child had kept its z-score since the last weighing, kg."""
    if last is None or last.weight_kg <= 0:
        return None
    then = _references(last.age_days, sex)
    if not then:
        return None
    z = max(min(_nearest_z(last.weight_kg, then), 3.0), -3.0)
    return weight_at(z, references[0])


def _explain(
    weight_kg: float, z: float, references: list[Lms], expected_kg: float | None
) -> tuple[Explanation, ...]:
    limits = _limits()
    found = []
    for slip in _slips():
        undone = weight_kg * slip.factor
        undone_z = _nearest_z(undone, references)
        by_age = abs(z) >= limits["far-z"] and abs(undone_z) <= limits["near-z"]
        by_last = (
            expected_kg is not None
            and abs(undone / expected_kg - 1) <= limits["ratio-tolerance"]
            and abs(weight_kg / expected_kg - 1) > limits["ratio-tolerance"]
        )
        if by_age or by_last:
            nearness = abs(undone_z) if expected_kg is None else abs(undone / expected_kg - 1)
            found.append((nearness, slip, undone, undone_z))
    found.sort(key=lambda each: each[0])
    return tuple(
        Explanation(slip=slip.key, words=slip.words, weight_kg=round(undone, 2), z=undone_z)
        for _, slip, undone, undone_z in found
    )


def _say(
    weight_kg: float, z: float, verdict: str, found: tuple[Explanation, ...], reference: str
) -> str:
    whose = "WHO" if reference == "who-growth-2006" else "CDC"
    place = f"{weight_kg:g} kg lies {abs(z):.1f} SD {'above' if z > 0 else 'below'} the median"
    if verdict == PLAUSIBLE:
        return f"{place} of this age ({whose})."
    if verdict == UNUSUAL:
        beyond = " It passes the limit at which the reference itself doubts a weight." * (
            not _within_limits(z, whose)
        )
        return (
            f"{place} of this age ({whose}); no common slip explains it.{beyond} "
            "It may be true: weigh again or confirm."
        )
    guesses = " or ".join(f"{each.weight_kg:g} kg ({each.words})" for each in found[:2])
    return f"{place} of this age ({whose}). Was it {guesses}? Weigh again or confirm."


def _within_limits(z: float, whose: str) -> bool:
    limits = _limits()
    key = whose.lower()
    return limits[f"{key}-lowest-z"] <= z <= limits[f"{key}-highest-z"]


def describe_missing_weight(
    site: str, age_months: float, length_mm: float, angle_deg: float = 90.0
) -> str:
    """What a weight would change in the reach of this needle, in one sentence.

    site  "thigh" or "deltoid"; age in months, length in mm
    """
    told = weight_would_move(site, age_months, length_mm, angle_deg)
    return told or "Weight not given. No reach figures of this age move with it."


def weight_would_move(
    site: str, age_months: float, length_mm: float, angle_deg: float = 90.0
) -> str | None:
    """The same where figures of this age were printed by weight and differ; None otherwise."""
    weights = {
        row.kg_from
        for row in studies().values()
        if row.site == site
        and row.role in ("anchor", "weight")
        and row.kg_from is not None
        and row.age_from_months <= age_months <= row.age_to_months
    }
    told = []
    for weight in sorted(weights):
        found = middle_shares(site, age_months, weight, length_mm, angle_deg)
        if found is not None:
            told.append((f"{100 * found.bone_depth:.0f}", weight))
    if len({share for share, _ in told}) < 2:
        return None
    listed = ", ".join(f"{share} from {weight:g} kg" for share, weight in told)
    return (
        f"Weight not given. It moves the children of 100 in whom {length_mm:g} mm would end at "
        f"bone depth: {listed}."
    )
