"""The second opinion on a length that the official table has already chosen.

It reads the chosen length and hands it back unchanged. It speaks up only where children
of this age were measured and most of them lie outside the muscle by these figures; then
it names the trials that point the other way and asks for nothing but technique and care.
"""

from __future__ import annotations

import msgspec

from traywise.equipment.reach.answer import NO_EVIDENCE, SITES, ReachAnswer, Share, reach
from traywise.equipment.reach.studies import TrialRow, setting, trials
from traywise.equipment.reach.tissue import MEASURED


class SecondOpinion(msgspec.Struct, frozen=True, kw_only=True):
    """A note beside the table's needle; ``table_length_mm`` is what came in.

    differs  True where measured children make the table's length look too short or long
    trials   outcome trials that point the other way, each a sentence
    """

    table_length_mm: float
    differs: bool
    text: str
    brief: str = ""  # the same in one line, when it differs
    trials: tuple[str, ...] = ()
    answer: ReachAnswer


def second_opinion(
    table_length_mm: float,
    site: str,
    age_months: float,
    weight_kg: float | None = None,
    angle_deg: float = 90.0,
    technique: str = "stretched",
) -> SecondOpinion:
    """What the scans say about the table's needle; never another needle.

    raises  InputError for a question that cannot be asked

    >>> note = second_opinion(25, "thigh", 2)
    >>> note.differs, note.table_length_mm
    (True, 25)
    """
    answer = reach(site, age_months, weight_kg, table_length_mm, angle_deg, technique)
    side = _doubtful_side(answer)
    if side is None:
        text = _quiet_text(answer, table_length_mm)
        return SecondOpinion(
            table_length_mm=table_length_mm, differs=False, text=text, answer=answer
        )
    opposed = _opposed(side, SITES[site], age_months, table_length_mm)
    return SecondOpinion(
        table_length_mm=table_length_mm,
        differs=True,
        text=_careful_text(answer, table_length_mm, angle_deg, side, bool(opposed)),
        brief=_brief_text(answer, table_length_mm, side, bool(opposed)),
        trials=tuple(f"{trial.study}: {trial.finding}." for trial in opposed),
        answer=answer,
    )


def _doubtful_side(answer: ReachAnswer) -> str | None:
    if answer.evidence != MEASURED or answer.short is None or answer.bone_depth is None:
        return None
    limit = setting("second-opinion-from")
    if answer.bone_depth.mid >= limit:
        return "bone depth"
    return "short" if answer.short.mid >= limit else None


def _opposed(side: str, site: str, age_months: float, length_mm: float) -> list[TrialRow]:
    """Trials whose outcome speaks for a longer needle where scans call it long, and vice versa."""
    wanted = "longer" if side == "bone depth" else "shorter"
    return [
        trial
        for trial in trials()
        if trial.points == wanted
        and trial.site == site
        and trial.age_from_months <= age_months <= trial.age_to_months
        and trial.mm_from <= length_mm <= (trial.mm_to or length_mm)
    ]


def of_100(share: Share) -> str:
    """A share as people count it; never a bare 0 or 100 for what is only unlikely.

    >>> of_100(Share(low=0.61, mid=0.9377, high=0.999))
    '94 of 100 (61 to over 99)'
    """

    def count(value: float) -> str:
        if value < 0.005:
            return "under 1"
        return "over 99" if value > 0.995 else f"{100 * value:.0f}"

    return f"{count(share.mid)} of 100 ({count(share.low)} to {count(share.high)})"


def _careful_text(
    answer: ReachAnswer, length_mm: float, angle_deg: float, side: str, opposed: bool
) -> str:
    share = answer.bone_depth if side == "bone depth" else answer.short
    where = "at bone depth" if side == "bone depth" else "short of muscle"
    if share is None:
        raise ValueError("a careful text needs a share")
    trials_say = (
        " Trials of real injections point the other way, so this is a question, not an answer."
        if opposed
        else ""
    )
    return (
        f"The table's {length_mm:g} mm stands. Scans suggest that at {angle_deg:g}° it would end "
        f"{where} in {of_100(share)} children of this age. {answer.why}{trials_say} "
        "Bone depth on a scan is not bone touched, nor harm. Mind the technique, and watch "
        "the site as always."
    )


def _brief_text(answer: ReachAnswer, length_mm: float, side: str, opposed: bool) -> str:
    share = answer.bone_depth if side == "bone depth" else answer.short
    if share is None:
        raise ValueError("a brief text needs a share")
    where = "bone depth" if side == "bone depth" else "a tip short of muscle"
    trials_say = "; trials of real injections point the other way" if opposed else ""
    return (
        f"The table's {length_mm:g} mm stands. Scans of {answer.children or 'a few'} children "
        f"suggest {where} in {of_100(share)}{trials_say}. Mind the technique."
    )


def _quiet_text(answer: ReachAnswer, length_mm: float) -> str:
    if answer.evidence == NO_EVIDENCE or answer.in_muscle is None:
        return f"No evidence from scans for this child: {answer.why} The table's length stands."
    return (
        f"Scans suggest that {length_mm:g} mm ends in muscle in {of_100(answer.in_muscle)} "
        f"children like this one. {answer.why} The table's length stands."
    )
