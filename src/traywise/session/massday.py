"""A mass day: many children, few products, vials of many doses, a cool box to carry.

How many children come is a chance: each of the expected comes with a probability
(binomial), or only the mean is known (Poisson). At each post a vial is opened for any
child and what is left in the last one is lost at the end, unless the product keeps.
Expected vials V = sum over k of P(k children) x vials for k; waste = 1 - E[k] / (d x V).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, exp, lgamma, log

import msgspec

from traywise.rulebook.stock import packed_volume, stock_share
from traywise.rulebook.vaccines import vaccines
from traywise.shelf.discard import is_mixed, keeping_minutes


class Waste(msgspec.Struct, frozen=True, kw_only=True):
    """What opening vials of ``vial_doses`` for so many children costs, in the mean."""

    children: float
    vial_doses: int
    vials: float
    waste: float  # share of the doses opened


class MassProduct(msgspec.Struct, frozen=True, kw_only=True):
    """One product of a mass day.

    share       of the children who need it (0 to 1)
    vial_doses  doses in one vial or syringe
    """

    vaccine: str
    vial_doses: int
    share: float = 1.0
    presentation: str = "multidose"


class Taking(msgspec.Struct, frozen=True, kw_only=True):
    """What to take along of one product.

    vials       at every post enough with the wanted certainty; all posts together
    expected    children who get it, and vials opened for them, in the mean
    litres      in inner boxes, diluent included; None where no volume is published
    """

    vaccine: str
    name: str
    vials: int
    doses: int
    expected_children: float
    expected_vials: float
    waste: float
    litres: float | None
    litres_outer: float | None
    diluents: int
    syringes: int
    mixing_syringes: int
    note: str
    source: str


class MassDay(msgspec.Struct, frozen=True, kw_only=True):
    """The whole load, and how the waste changes with the number of posts."""

    taking: tuple[Taking, ...]
    litres: float | None
    boxes: int | None
    safety_boxes: int
    by_posts: dict[str, tuple[tuple[int, float], ...]]


def binomial(n: int, p: float) -> list[float]:
    """P(k of n come) for k = 0 to n.

    >>> [round(x, 3) for x in binomial(2, 0.5)]
    [0.25, 0.5, 0.25]
    """
    if not 0 <= p <= 1 or n < 0:
        raise ValueError("Children expected cannot be negative; a share lies between 0 and 1.")
    if p in (0, 1):
        return [float(k == n * p) for k in range(n + 1)]
    return [
        exp(lgamma(n + 1) - lgamma(k + 1) - lgamma(n - k + 1) + k * log(p) + (n - k) * log(1 - p))
        for k in range(n + 1)
    ]


def poisson(mean: float) -> list[float]:
    """P(k come) for k = 0 up to where hardly anything is left.

    >>> round(sum(poisson(5)), 9)
    1.0
    """
    if mean <= 0:
        return [1.0]
    top = ceil(mean + 12 * mean**0.5 + 12)
    return [exp(k * log(mean) - mean - lgamma(k + 1)) for k in range(top + 1)]


def open_vial_waste(chances: Sequence[float], vial_doses: int) -> Waste:
    """Vials and waste when a vial is opened for any child.

    source  WHO work on session size and open-vial waste (the idea; no table was read)
    """
    if vial_doses < 1:
        raise ValueError("A vial holds one dose at least.")
    children = sum(k * chance for k, chance in enumerate(chances))
    vials = sum(ceil(k / vial_doses) * chance for k, chance in enumerate(chances))
    waste = 1 - children / (vial_doses * vials) if vials else 0.0
    return Waste(children=children, vial_doses=vial_doses, vials=vials, waste=waste)


def vials_for(chances: Sequence[float], vial_doses: int, certainty: float) -> int:
    """The fewest vials that are enough with the certainty.

    >>> vials_for(binomial(20, 0.5), 10, 0.95)
    2
    """
    if not 0 < certainty < 1:
        raise ValueError("Certainty lies between 0 and 1: 0.95.")
    total = 0.0
    for k, chance in enumerate(chances):
        total += chance
        if total >= certainty:
            return ceil(k / vial_doses)
    return ceil((len(chances) - 1) / vial_doses)


def plan_mass_day(
    children: int,
    products: Sequence[MassProduct],
    *,
    posts: int = 1,
    attendance: float = 1.0,
    certainty: float = 0.95,
    box_litres: float | None = None,
) -> MassDay:
    """What to take to a school or outreach day.

    children    expected in all, spread evenly over the posts
    attendance  share of them that will come
    certainty   that no post runs out
    box_litres  room of one cool box; None: boxes are not counted
    """
    if posts < 1 or children < 0:
        raise ValueError("One post at least, and no negative number of children.")
    taking = tuple(_taking(children, p, posts, attendance, certainty) for p in products)
    volumes = [entry.litres for entry in taking]
    litres = None if None in volumes else sum(volume for volume in volumes if volume is not None)
    boxes = ceil(litres / box_litres) if litres is not None and box_litres else None
    thrown = sum(entry.syringes + entry.mixing_syringes for entry in taking)
    return MassDay(
        taking=taking,
        litres=litres,
        boxes=boxes,
        safety_boxes=ceil(thrown / stock_share("safety box").count),
        by_posts={p.vaccine: _by_posts(children, p, posts, attendance) for p in products},
    )


def _post_sizes(children: int, posts: int) -> list[int]:
    """Children expected at each post, as even as can be."""
    return [children // posts + (number < children % posts) for number in range(posts)]


def _taking(
    children: int, product: MassProduct, posts: int, attendance: float, certainty: float
) -> Taking:
    vaccine = vaccines()[product.vaccine]
    sizes = _post_sizes(children, posts)
    chances = {size: binomial(size, attendance * product.share) for size in set(sizes)}
    wastes = [open_vial_waste(chances[size], product.vial_doses) for size in sizes]
    vials = sum(vials_for(chances[size], product.vial_doses, certainty) for size in sizes)
    expected = sum(waste.children for waste in wastes)
    opened = sum(waste.vials for waste in wastes)
    doses = vials * product.vial_doses
    volume = packed_volume(product.vaccine, product.vial_doses, product.presentation)
    mixed = is_mixed(vaccine, product.presentation)
    reserve = 1 + stock_share("syringe reserve").share
    injected = not {"PO", "NAS"} & set(vaccine.routes) and product.presentation != "prefilled"
    return Taking(
        vaccine=product.vaccine,
        name=vaccine.name,
        vials=vials,
        doses=doses,
        expected_children=expected,
        expected_vials=opened,
        waste=1 - expected / (opened * product.vial_doses) if opened else 0.0,
        litres=_litres(doses, volume.inner_cm3, volume.diluent_cm3 if mixed else 0)
        if volume
        else None,
        litres_outer=_litres(doses, volume.outer_cm3, 0) if volume and volume.outer_cm3 else None,
        diluents=vials if mixed else 0,
        syringes=ceil(round(doses * reserve, 9)) if injected else 0,
        mixing_syringes=ceil(round(vials * reserve, 9)) if mixed else 0,
        note=_note(product, volume is not None),
        source=volume.source if volume else "",
    )


def _note(product: MassProduct, has_volume: bool) -> str:
    notes = [] if has_volume else ["no packed volume is published for this vial: measure a box"]
    minutes = keeping_minutes(vaccines()[product.vaccine], product.presentation)
    several = product.presentation in ("multidose", "ampoule")
    if several and (minutes is None or minutes > 1440):
        keeps = "to its expiry" if minutes is None else f"{minutes // 1440} days"
        notes.append(f"an opened vial keeps {keeps} where it stays cold and clean: not all is lost")
    return "; ".join(notes)


def _litres(doses: int, cm3: float, diluent_cm3: float | None) -> float:
    # Where no figure is printed a diluent is taken to need as much room as its vaccine (MSF).
    return doses * (cm3 + (cm3 if diluent_cm3 is None else diluent_cm3)) / 1000


def _by_posts(
    children: int, product: MassProduct, posts: int, attendance: float
) -> tuple[tuple[int, float], ...]:
    """Waste for half, the same and twice as many posts: the fewer children a post, the more."""
    found = []
    for count in sorted({max(1, posts // 2), posts, posts * 2}):
        wastes = [
            open_vial_waste(binomial(size, attendance * product.share), product.vial_doses)
            for size in _post_sizes(children, count)
        ]
        vials = sum(waste.vials for waste in wastes)
        given = sum(waste.children for waste in wastes)
        found.append((count, 1 - given / (vials * product.vial_doses) if vials else 0.0))
    return tuple(found)
