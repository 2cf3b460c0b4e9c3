"""Which injection goes to which site and side: solved exactly over all layouts.

Hard rules: never two in one spot, never more than a site and a limb take, no limb to be
avoided, a vaccine and the antibody against the same disease in separate limbs, the parts
of one dose all or none. Everything else is a cost, compared from the gravest to the
mildest (``Cost``). Branch and bound: every part of the cost only grows as injections are
added, so a partial layout no better than the best whole one is left. Nothing depends on
the order of entry: injections are sorted before the search, and the first of equal
layouts is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from traywise.equipment.apart import are_kept_apart, groups_of, sore_pair
from traywise.equipment.body import LIMBS, SIDE_OF_LIMB, Body
from traywise.equipment.place import DoseToPlace
from traywise.equipment.site import LIMB_KIND, Room, SiteOption, room_at
from traywise.equipment.tables import DEFAULT_POLICY, home_rows


class Injection(msgspec.Struct, frozen=True, kw_only=True):
    """One injection to be placed and every place it may take."""

    dose: int
    part: int
    parts: int
    route: str
    what: DoseToPlace
    options: tuple[SiteOption, ...]

    @property
    def groups(self) -> frozenset[str]:
        return groups_of(self.what)


class Cost(NamedTuple):
    """What a layout costs, gravest first; compared as a tuple, smaller is better."""

    not_placed: int = 0
    urgency_not_placed: int = 0
    kind_not_placed: int = 0  # antibodies weigh more than live vaccines, these more than others
    groups_not_placed: int = 0
    over_normal: int = 0  # injections beyond what a site or limb usually takes
    muscle_unknown: int = 0  # deltoid of a toddler whose muscle nobody has judged
    sore_pairs: int = 0  # named pairs (DTaP and PCV) in one limb
    rank: int = 0  # alternate instead of preferred sites
    crowding: int = 0  # pairs of injections in one limb
    reactogenic_pairs: int = 0  # pairs in one limb of which one at least is reactogenic
    soreness: int = 0  # sum of products of soreness over pairs in one limb
    live_pairs: int = 0  # two live vaccines in one limb: a reaction could not be traced
    away_from_home: int = 0  # not at the vaccine's usual side


class Assignment(msgspec.Struct, frozen=True, kw_only=True):
    """The best layout: an option for every injection, None where it has no place today."""

    options: tuple[SiteOption | None, ...]
    cost: Cost


def pair_cost(one: Injection, other: Injection) -> Cost:
    """Cost of two injections sharing a limb."""
    a, b = one.what.vaccine, other.what.vaccine
    return Cost(
        sore_pairs=int(sore_pair(one.what, other.what) is not None),
        crowding=1,
        reactogenic_pairs=int(a.reactogenic or b.reactogenic),
        soreness=a.soreness * b.soreness,
        live_pairs=int(a.live and b.live),
    )


def home_side(injection: Injection) -> str | None:
    """The usual side of this vaccine; an antibody goes opposite its vaccine."""
    against = injection.what.vaccine.against
    wanted = {against} if against else injection.groups
    side = next((row.side for row in home_rows() if row.group in wanted), None)
    if side is None or not against:
        return side
    return "left" if side == "right" else "right"


def option_cost(injection: Injection, option: SiteOption) -> Cost:
    """Cost of a place by itself."""
    home = home_side(injection)
    return Cost(
        muscle_unknown=int(option.muscle_unknown),
        rank=option.rank,
        away_from_home=int(home is not None and home != SIDE_OF_LIMB[option.limb]),
    )


def drop_cost(injection: Injection) -> Cost:
    """Cost of having no place today: antibodies and live vaccines are kept before others.

    An antibody works only if given now; a live vaccine left over waits four weeks.
    """
    vaccine = injection.what.vaccine
    return Cost(
        not_placed=1,
        urgency_not_placed=injection.what.urgency,
        kind_not_placed=3 if vaccine.globulin else 2 if vaccine.live else 1,
        groups_not_placed=len(injection.groups),
    )


_BITS = 20  # of each part of a packed cost: far more than any sum over one visit


def pack(cost: Cost) -> int:
    """The cost as one whole number that adds and compares like the tuple, only faster."""
    packed = 0
    for part in cost:
        packed = (packed << _BITS) + part
    return packed


def unpack(packed: int) -> Cost:
    """The parts of a packed cost.

    >>> unpack(pack(Cost(rank=2, live_pairs=1))) == Cost(rank=2, live_pairs=1)
    True
    """
    parts = []
    for _ in Cost._fields:
        packed, part = packed >> _BITS, packed & ((1 << _BITS) - 1)
        parts.append(part)
    return Cost(*reversed(parts))


class _Search:
    """Depth-first over the injections, sorest first; keeps the best whole layout."""

    def __init__(self, injections: Sequence[Injection], body: Body, policy: str):
        self.injections = injections
        self.alone = [[pack(option_cost(i, o)) for o in i.options] for i in injections]
        self.drops = [pack(drop_cost(injection)) for injection in injections]
        self.pairs = [[pack(pair_cost(a, b)) for b in injections] for a in injections]
        self.apart = [[are_kept_apart(a.what, b.what) for b in injections] for a in injections]
        self.over = pack(Cost(over_normal=1))
        options = [option for injection in injections for option in injection.options]
        at = {o.site for o in options} | {LIMB_KIND[o.limb] for o in options}
        self.rooms: dict[str, Room] = {name: room_at(body, name, policy) for name in sorted(at)}
        self.floor = self._floors()
        self.in_limb: dict[str, list[int]] = {limb: [] for limb in LIMBS}
        self.at_site: dict[tuple[str, str], int] = {}
        self.chosen: list[SiteOption | None] = [None] * len(injections)
        self.best: tuple[int, tuple[SiteOption | None, ...]] | None = None

    def _floors(self) -> list[int]:
        """For each injection the least that it and all after it can cost."""
        floors = [0]
        for alone, drop in zip(reversed(self.alone), reversed(self.drops), strict=True):
            floors.append(floors[-1] + min([*alone, drop]))
        return floors[::-1]

    def run(self) -> Assignment:
        self._place(0, 0)
        if self.best is None:
            raise AssertionError("leaving everything unplaced is always a layout")
        return Assignment(options=self.best[1], cost=unpack(self.best[0]))

    def _place(self, n: int, cost: int) -> None:
        if self.best is not None and cost + self.floor[n] >= self.best[0]:
            return
        if n == len(self.injections):
            self.best = cost, tuple(self.chosen)
            return
        first_part_placed = self._first_part_placed(n)
        if first_part_placed is not False:
            for reached, _, option in self._free(n, cost):
                self._take(n, option)
                self._place(n + 1, reached)
                self._leave(n, option)
        if first_part_placed is not True:
            self._place(n + 1, cost + self.drops[n])

    def _first_part_placed(self, n: int) -> bool | None:
        """Of a further part: whether the part before it has a place; None for a first part."""
        if self.injections[n].part == 1:
            return None
        return self.chosen[n - 1] is not None

    def _free(self, n: int, cost: int) -> list[tuple[int, int, SiteOption]]:
        """Places still free for injection n, cheapest first: cost so reached, number, place."""
        found = []
        for number, option in enumerate(self.injections[n].options):
            others = self.in_limb[option.limb]
            site, limb = self.rooms[option.site], self.rooms[LIMB_KIND[option.limb]]
            here = self.at_site.get((option.site, option.limb), 0)
            if here >= site.most or len(others) >= limb.most:
                continue
            if any(self.apart[n][other] for other in others):
                continue
            total = cost + self.alone[n][number]
            total += self.over * (int(here >= site.normal) + int(len(others) >= limb.normal))
            total += sum(self.pairs[n][other] for other in others)
            found.append((total, number, option))
        found.sort(key=lambda item: item[:2])
        return found

    def _take(self, n: int, option: SiteOption) -> None:
        key = (option.site, option.limb)
        self.chosen[n] = option
        self.in_limb[option.limb].append(n)
        self.at_site[key] = self.at_site.get(key, 0) + 1

    def _leave(self, n: int, option: SiteOption) -> None:
        self.chosen[n] = None
        self.in_limb[option.limb].pop()
        self.at_site[(option.site, option.limb)] -= 1


def search_key(injection: Injection) -> tuple[object, ...]:
    """Order of the search: sorest first, parts of one dose together, the same for any entry."""
    what = injection.what
    return (
        -what.vaccine.soreness,
        what.vaccine.key,
        what.lot or "",
        injection.dose,
        injection.part,
    )


def best_layout(
    injections: Sequence[Injection], body: Body, policy: str = DEFAULT_POLICY
) -> Assignment:
    """The cheapest layout; ``options`` in the order of the injections as given."""
    ordered = sorted(range(len(injections)), key=lambda n: search_key(injections[n]))
    found = _Search([injections[n] for n in ordered], body, policy).run()
    options: list[SiteOption | None] = [None] * len(injections)
    for place, n in enumerate(ordered):
        options[n] = found.options[place]
    return Assignment(options=tuple(options), cost=found.cost)
