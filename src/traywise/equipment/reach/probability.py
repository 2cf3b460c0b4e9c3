"""Shares of children in whom a tip ends short of muscle, in muscle or at bone depth.

Closed form from means and SDs, and a range that carries three doubts: few children
measured (sampling), studies that differ (spread between studies), and a correlation of
fat and muscle that nobody has published. Only the standard library is used.
"""

from __future__ import annotations

from functools import lru_cache
from math import erf, log, sqrt
from random import Random

import msgspec

from traywise.equipment.reach.studies import setting
from traywise.rulebook.kept import kept

DRAWS = 2000
_SEED = 20021


class Tissue(msgspec.Struct, frozen=True, kw_only=True):
    """Normal depths at one place of the body, millimetres: mean and SD of each layer.

    s skin to muscle; either m (muscle) or t (skin to bone) beside it, or neither.
    children_s, children_t: how many were measured; None where not published.
    """

    s_mm: float
    s_sd_mm: float
    m_mm: float | None = None
    m_sd_mm: float | None = None
    t_mm: float | None = None
    t_sd_mm: float | None = None
    children_s: int | None = None
    children_t: int | None = None

    @property
    def skewed(self) -> bool:
        """Whether skin to muscle spreads so widely that a normal would go below zero."""
        return self.s_sd_mm / self.s_mm > setting("skewed-from")

    def bone(self, correlation: float) -> tuple[float, float] | None:
        """Mean and SD of skin to bone; None where neither muscle nor bone was measured."""
        if self.t_mm is not None and self.t_sd_mm is not None:
            return self.t_mm, self.t_sd_mm
        if self.m_mm is None or self.m_sd_mm is None:
            return None
        variance = self.s_sd_mm**2 + self.m_sd_mm**2 + 2 * correlation * self.s_sd_mm * self.m_sd_mm
        return self.s_mm + self.m_mm, sqrt(variance)


class Shares(msgspec.Struct, frozen=True):
    """Three shares that sum to 1."""

    short: float
    in_muscle: float
    bone_depth: float


def normal_below(x: float, mean: float, sd: float) -> float:
    """Share of a normal below x.

    >>> round(normal_below(12.7, 13.3, 2.1), 3)
    0.388
    """
    return 0.5 * (1 + erf((x - mean) / (sd * sqrt(2))))


def lognormal_below(x: float, mean: float, sd: float) -> float:
    """Share below x of a lognormal with this mean and SD (of the depths themselves).

    >>> round(1 - lognormal_below(12.7, 5.83, 3.12), 3)
    0.036
    """
    if x <= 0:
        return 0.0
    log_variance = log(1 + (sd / mean) ** 2)
    return normal_below(log(x), log(mean) - log_variance / 2, sqrt(log_variance))


def share_short(tissue: Tissue, depth_mm: float, inside_mm: float = 0.0) -> float:
    """Share in whom the tip is not ``inside_mm`` deep in the muscle."""
    below = lognormal_below if tissue.skewed else normal_below
    return 1 - below(depth_mm - inside_mm, tissue.s_mm, tissue.s_sd_mm)


def shares(
    tissue: Tissue, depth_mm: float, correlation: float = 0.0, inside_mm: float = 0.0
) -> Shares | None:
    """The three shares for a tip at ``depth_mm``; None where no bone depth was measured."""
    bone = tissue.bone(correlation)
    if bone is None:
        return None
    return _three(share_short(tissue, depth_mm, inside_mm), normal_below(depth_mm, *bone))


def _three(short: float, bone_depth: float) -> Shares:
    # Separate normals for S and T can add up to more than 1 in the tails. A tip at bone
    # depth is not short of muscle, so the share short gives way.
    short = min(short, 1 - bone_depth)
    return Shares(short, max(1 - short - bone_depth, 0.0), bone_depth)


class Draw(msgspec.Struct, frozen=True):
    """One possible truth: mean and SD of skin to muscle and, where known, of skin to bone."""

    s_mm: float
    s_sd_mm: float
    t_mm: float | None
    t_sd_mm: float | None


class Chance(msgspec.Struct, frozen=True, array_like=True):
    """The random numbers of one draw, before any measurement: the same for every needle.

    even                     0 to 1, for the correlation
    mean_s, mean_t           standard normal, for the mean of each layer's depth
    spread_s, spread_t       SD drawn over SD measured; None where too few are known to draw
    shift_s, shift_t         standard normal, for the spread between studies
    """

    even: float
    mean_s: float
    spread_s: float | None
    shift_s: float
    shift_t: float
    mean_t: float
    spread_t: float | None


def _chances(children_s: int | None, children_t: int | None) -> tuple[Chance, ...]:
    """The random numbers for so many measured children, kept from an earlier run or drawn now."""
    question = msgspec.msgpack.encode((children_s, children_t))
    return kept(tuple[Chance, ...], (question,), lambda: _draw_chances(children_s, children_t))


def _draw_chances(children_s: int | None, children_t: int | None) -> tuple[Chance, ...]:
    random = Random(_SEED)
    return tuple(_one_chance(random, children_s, children_t) for _ in range(DRAWS))


def _one_chance(random: Random, children_s: int | None, children_t: int | None) -> Chance:
    even = random.random()
    spread_s, mean_s = _spread_and_mean(random, children_s)
    shift_s, shift_t = random.gauss(0, 1), random.gauss(0, 1)
    spread_t, mean_t = _spread_and_mean(random, children_t)
    return Chance(even, mean_s, spread_s, shift_s, shift_t, mean_t, spread_t)


def _spread_and_mean(random: Random, children: int | None) -> tuple[float | None, float]:
    """A ratio of SDs and a standard normal; no ratio and no shift where too few are known."""
    if children is None or children < 2:
        return None, 0.0
    freedom = children - 1
    return sqrt(random.gammavariate(freedom / 2, 2) / freedom), random.gauss(0, 1)


def _mean_and_sd(
    mean: float, sd: float, children: int | None, shift: float, spread: float | None
) -> tuple[float, float]:
    """A mean and SD that this many children could have come from; as printed if unknown."""
    if children is None or spread is None:
        return mean, sd
    return mean + shift * (sd / sqrt(children)), sd * spread


@lru_cache(maxsize=64)
def draws(
    tissue: Tissue, correlation: tuple[float, float], between: tuple[float, float]
) -> tuple[Draw, ...]:
    """Possible truths behind one set of measurements, the same ones for every needle.

    correlation  lowest and highest; drawn evenly between
    between      SD between studies of the mean skin to muscle and skin to bone, mm

    One seed: equal questions get equal answers, and a longer needle is compared on the
    same truths as a shorter one.
    """
    chances = _chances(tissue.children_s, tissue.children_t)
    return tuple(_one_draw(chance, tissue, correlation, between) for chance in chances)


def _one_draw(
    chance: Chance,
    tissue: Tissue,
    correlation: tuple[float, float],
    between: tuple[float, float],
) -> Draw:
    s, s_sd = _mean_and_sd(
        tissue.s_mm, tissue.s_sd_mm, tissue.children_s, chance.mean_s, chance.spread_s
    )
    of_t = (tissue.children_t, chance.mean_t, chance.spread_t)
    t: float | None = None
    t_sd: float | None = None
    if tissue.t_mm is not None and tissue.t_sd_mm is not None:
        t, t_sd = _mean_and_sd(tissue.t_mm, tissue.t_sd_mm, *of_t)
    elif tissue.m_mm is not None and tissue.m_sd_mm is not None:
        m, m_sd = _mean_and_sd(tissue.m_mm, tissue.m_sd_mm, *of_t)
        rho = correlation[0] + (correlation[1] - correlation[0]) * chance.even
        t, t_sd = s + m, sqrt(s_sd**2 + m_sd**2 + 2 * rho * s_sd * m_sd)
    floor_mm = 0.1  # a drawn mean depth cannot be negative
    shift_s, shift_t = chance.shift_s * between[0], chance.shift_t * between[1]
    return Draw(max(s + shift_s, floor_mm), s_sd, None if t is None else t + shift_t, t_sd)


def shares_of_draw(draw: Draw, depth_mm: float, skewed: bool) -> tuple[float, float]:
    """Share short and share at bone depth (0 where unknown) if this draw were the truth."""
    below = lognormal_below if skewed else normal_below
    short = 1 - below(depth_mm, draw.s_mm, draw.s_sd_mm)
    if draw.t_mm is None or draw.t_sd_mm is None:
        return short, 0.0
    three = _three(short, normal_below(depth_mm, draw.t_mm, draw.t_sd_mm))
    return three.short, three.bone_depth


def doubtful_draws(tissue: Tissue) -> tuple[Draw, ...]:
    """Draws with all three doubts, as the settings give them."""
    return draws(
        tissue,
        (setting("correlation-low"), setting("correlation-high")),
        (setting("between-studies-s-mm"), setting("between-studies-t-mm")),
    )


def middle_90(values: list[float]) -> tuple[float, float]:
    """The 5th and 95th of a hundred."""
    ordered = sorted(values)
    last = len(ordered) - 1
    return ordered[round(0.05 * last)], ordered[round(0.95 * last)]
