"""The answer: three shares with their range, and everything a reader needs to weigh them."""

from __future__ import annotations

from math import isfinite

import msgspec

from traywise.equipment.reach.geometry import tip_depth_mm
from traywise.equipment.reach.probability import (
    Shares,
    Tissue,
    doubtful_draws,
    middle_90,
    share_short,
    shares,
    shares_of_draw,
)
from traywise.equipment.reach.studies import StudyRow, setting, studies, trials
from traywise.equipment.reach.tissue import Found, Missing, find_tissue, tissue_of
from traywise.errors import Fault, InputError

NO_EVIDENCE = "none"
SITES = {
    "thigh": "thigh",
    "LT": "thigh",
    "RT": "thigh",
    "deltoid": "deltoid",
    "LD": "deltoid",
    "RD": "deltoid",
}
TECHNIQUES = ("stretched", "rest", "bunched")


class Share(msgspec.Struct, frozen=True, kw_only=True):
    """A share of children, 0 to 1: the middle figure, and where 90 of 100 possible truths lie."""

    low: float
    mid: float
    high: float


class StudyBeside(msgspec.Struct, frozen=True, kw_only=True):
    """What one measured group gives by itself for the same needle; None where it cannot."""

    key: str
    study: str
    people: str
    role: str
    children: int | None
    age_from_months: float
    age_to_months: float
    short: float
    in_muscle: float | None = None
    bone_depth: float | None = None
    read: str
    derived: str = ""
    source: str


class ReachAnswer(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """How a needle ends in children like this one; ``evidence`` "none" has no shares.

    evidence        measured, interpolated or none
    why             what stands behind the shares, or why there are none
    children        measured for the figures used; None where not published
    age_gap_months  from the child's age to the nearest measured one
    if_pressed      shares at the hardest press measured: outer bound for stretched skin
    short_only      where only skin to muscle is known: studies' shares short of muscle
    """

    evidence: str
    why: str
    short: Share | None = None
    in_muscle: Share | None = None
    bone_depth: Share | None = None
    studies: tuple[StudyBeside, ...] = ()
    children: int | None = None
    age_gap_months: float | None = None
    depth_mm: float | None = None
    tissue: Tissue | None = None
    if_pressed: Shares | None = None
    short_only: tuple[StudyBeside, ...] = ()
    unknown: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    source: tuple[str, ...] = ()


def reach(
    site: str,
    age_months: float,
    weight_kg: float | None,
    length_mm: float,
    angle_deg: float = 90.0,
    technique: str = "stretched",
) -> ReachAnswer:
    """How often this needle ends short of, in, or past the muscle in children like this one.

    site       "thigh" or "deltoid", or a code of HL7 table 0163 for them
    technique  "stretched" or "rest" (figures of resting tissue), "bunched" (no evidence)
    raises     InputError with every fault (codes equipment.E101 to E106)
    source     tables/reach-*.toml; limits in docs/evidence-reach.md

    >>> answer = reach("thigh", 4, None, 16)
    >>> round(answer.in_muscle.mid, 4), answer.evidence, answer.children
    (0.9757, 'measured', 13)
    """
    faults = check_question(site, age_months, weight_kg, length_mm, angle_deg, technique)
    if faults:
        raise InputError(faults)
    place = SITES[site]
    depth_mm = tip_depth_mm(length_mm, angle_deg)
    found = find_tissue(place, age_months, weight_kg)
    beside = _beside(place, age_months, weight_kg, depth_mm, found)
    notes = _notes(place, age_months, length_mm, angle_deg, technique)
    if isinstance(found, Missing) or technique == "bunched":
        return _without_shares(found, beside, notes, depth_mm)
    return _with_shares(found, beside, notes, depth_mm, technique)


def middle_shares(
    site: str, age_months: float, weight_kg: float | None, length_mm: float, angle_deg: float
) -> Shares | None:
    """The middle figures alone, without their range; None without evidence. For curves."""
    found = find_tissue(SITES[site], age_months, weight_kg)
    if isinstance(found, Missing):
        return None
    return shares(found.tissue, tip_depth_mm(length_mm, angle_deg), setting("correlation-mid"))


def _with_shares(
    found: Found,
    beside: tuple[StudyBeside, ...],
    notes: tuple[str, ...],
    depth_mm: float,
    technique: str,
) -> ReachAnswer:
    mid = shares(found.tissue, depth_mm, setting("correlation-mid"))
    if mid is None:
        raise ValueError(f"no bone depth in {[row.key for row in found.rows]}")
    short, in_muscle, bone_depth = _ranges(found.tissue, depth_mm, mid)
    used = {row.key for row in found.rows}
    return ReachAnswer(
        evidence=found.evidence,
        why=_describe(found),
        short=short,
        in_muscle=in_muscle,
        bone_depth=bone_depth,
        studies=tuple(study for study in beside if study.role != "short"),
        children=_count_children(found.rows),
        age_gap_months=found.age_gap_months,
        depth_mm=depth_mm,
        tissue=found.tissue,
        if_pressed=shares(_pressed(found.tissue), depth_mm) if technique == "stretched" else None,
        unknown=found.unknown,
        notes=notes + tuple(f"{row.study}: {row.derived}." for row in found.rows if row.derived),
        source=tuple(dict.fromkeys(s.source for s in beside if s.key in used)),
    )


def _without_shares(
    found: Found | Missing,
    beside: tuple[StudyBeside, ...],
    notes: tuple[str, ...],
    depth_mm: float,
) -> ReachAnswer:
    if isinstance(found, Missing):
        # A depth of fat without a depth of bone is half an answer, and is labelled as one.
        short_only = tuple(study for study in beside if study.role == "short")
        return ReachAnswer(
            evidence=NO_EVIDENCE,
            why=found.why,
            short_only=short_only,
            depth_mm=depth_mm,
            notes=notes,
            source=tuple(dict.fromkeys(study.source for study in short_only)),
        )
    return ReachAnswer(
        evidence=NO_EVIDENCE,
        why="Nobody has measured how much bunching thickens the tissue. Against resting tissue "
        "the needle ends short more often and at bone depth less often; by how much is unknown.",
        depth_mm=depth_mm,
        unknown=found.unknown,
        notes=notes,
    )


def _ranges(tissue: Tissue, depth_mm: float, mid: Shares) -> tuple[Share, Share, Share]:
    pairs = [shares_of_draw(draw, depth_mm, tissue.skewed) for draw in doubtful_draws(tissue)]

    def span(values: list[float], middle: float) -> Share:
        low, high = middle_90(values)
        return Share(low=min(low, middle), mid=middle, high=max(high, middle))

    return (
        span([short for short, _ in pairs], mid.short),
        span([max(1 - short - bone, 0.0) for short, bone in pairs], mid.in_muscle),
        span([bone for _, bone in pairs], mid.bone_depth),
    )


def _pressed(tissue: Tissue) -> Tissue:
    """The tissue at the hardest press measured; SDs shrink as their means do."""
    bone = tissue.bone(setting("correlation-mid"))
    if bone is None:
        raise ValueError("pressed tissue needs a bone depth")
    thinner_s, thinner_m = setting("pressed-s-factor"), setting("pressed-m-factor")
    t_mm = thinner_s * tissue.s_mm + thinner_m * (bone[0] - tissue.s_mm)
    return Tissue(
        s_mm=tissue.s_mm * thinner_s,
        s_sd_mm=tissue.s_sd_mm * thinner_s,
        t_mm=t_mm,
        t_sd_mm=bone[1] * t_mm / bone[0],
    )


def _count_children(rows: tuple[StudyRow, ...]) -> int | None:
    counts = [row.children for row in rows]
    return None if None in counts else sum(count or 0 for count in counts)


def _describe(found: Found) -> str:
    groups = " and ".join(
        f"{row.children} children ({row.study}: {row.people}{_ages(row)})" for row in found.rows
    )
    near = (
        "measured at this age"
        if found.evidence == "measured"
        else f"a line between measured ages, {found.age_gap_months:g} months from the nearest"
    )
    return f"From {groups}; {near}. Scans of resting tissue, not injections."


def _ages(row: StudyRow) -> str:
    if row.age_from_months == row.age_to_months and row.age_from_months > 0:
        return f", {row.age_from_months:g} months"
    return ""


def _beside(
    place: str,
    age_months: float,
    weight_kg: float | None,
    depth_mm: float,
    found: Found | Missing,
) -> tuple[StudyBeside, ...]:
    """The rows used, then every other group of this site and age, each by itself."""
    used = found.rows if isinstance(found, Found) else ()
    others = [
        row
        for row in studies().values()
        if row not in used
        and row.site == place
        and row.role != "weight"
        and row.age_from_months <= age_months <= row.age_to_months
        and (weight_kg is None or row.fits_weight(weight_kg))
    ]
    carried = found.tissue if isinstance(found, Found) else None
    return tuple(_by_itself(row, depth_mm, carried) for row in (*used, *others))


def _by_itself(row: StudyRow, depth_mm: float, carried: Tissue | None) -> StudyBeside:
    # A group with bone depth only takes skin to muscle from the estimate.
    borrows = row.skin_to_muscle_mm is None and carried is not None
    tissue = carried if borrows and carried is not None else tissue_of(row)
    three = shares(tissue, depth_mm)
    return StudyBeside(
        key=row.key,
        study=row.study,
        people=row.people,
        role=row.role,
        children=row.children,
        age_from_months=row.age_from_months,
        age_to_months=row.age_to_months,
        short=share_short(tissue, depth_mm) if three is None else three.short,
        in_muscle=None if three is None else three.in_muscle,
        bone_depth=None if three is None else three.bone_depth,
        read=row.read,
        derived=row.derived,
        source=row.source,
    )


def _notes(
    place: str, age_months: float, length_mm: float, angle_deg: float, technique: str
) -> tuple[str, ...]:
    notes = []
    if technique == "stretched":
        notes.append(
            "Stretching thins both layers by an amount nobody has measured: bone depth is likelier "
            "and short less likely than in resting tissue."
        )
    notes += [
        f"{trial.study}: {trial.finding}."
        for trial in trials()
        if trial.site == place
        and trial.age_from_months <= age_months <= trial.age_to_months
        and trial.mm_from <= length_mm <= (trial.mm_to or length_mm)
        and angle_deg <= trial.angle_to_deg
    ]
    return tuple(notes)


def check_question(
    site: str,
    age_months: float,
    weight_kg: float | None,
    length_mm: float,
    angle_deg: float,
    technique: str,
) -> list[Fault]:
    """Every fault of a question; an empty list when it can be asked."""
    faults = []
    if site not in SITES:
        faults.append(
            Fault("equipment.E101", "site", f'"{site}" is not known. Write thigh or deltoid.')
        )
    if technique not in TECHNIQUES:
        faults.append(
            Fault(
                "equipment.E102",
                "technique",
                f'"{technique}" is not known. Write {", ".join(TECHNIQUES)}.',
            )
        )
    numbers = (
        ("equipment.E103", "age_months", age_months, 0, 228, "months from birth, up to 228"),
        ("equipment.E104", "weight_kg", weight_kg, 0.3, 250, "kilograms, 0.3 to 250"),
        ("equipment.E105", "length_mm", length_mm, 4, 60, "the needle in millimetres, 4 to 60"),
        ("equipment.E106", "angle_deg", angle_deg, 1, 90, "degrees to the skin, 1 to 90"),
    )
    for code, name, value, low, high, unit in numbers:
        if value is not None and not (isfinite(value) and low <= value <= high):
            faults.append(Fault(code, name, f"{value:g} does not fit. Write {unit}."))
    return faults
