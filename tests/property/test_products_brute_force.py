"""The choice of products equals the best of all subsets of the shelf (up to 8 lots)."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from traywise.record.child import Child
from traywise.schedule.answer import Answer, GroupForecast
from traywise.shelf.lot import Lot
from traywise.tray.need import need_of
from traywise.tray.products import choose, options_of

ON = date(2026, 11, 24)
GROUPS = ("DTaP", "IPV", "Hib", "HepB", "PCV", "PPSV", "MMR", "VAR", "Flu", "RV", "MenACWY", "MenB")
PRODUCTS = [
    ("08", "prefilled"), ("20", "vial"), ("10", "prefilled"), ("48", "vial+diluent"),
    ("49", "vial"), ("216", "prefilled"), ("133", "prefilled"), ("33", "prefilled"),
    ("03", "vial+diluent"), ("21", "vial+diluent"), ("94", "vial+diluent"), ("140", "prefilled"),
    ("141", "multidose"), ("110", "prefilled"), ("120", "vial+diluent"), ("130", "prefilled"),
    ("146", "prefilled"), ("119", "oral"), ("116", "oral"), ("136", "vial"), ("203", "vial"),
    ("163", "prefilled"), ("162", "prefilled"), ("316", "vial+diluent"), ("328", "vial+diluent"),
]  # fmt: skip

forecasts = st.builds(
    GroupForecast,
    status=st.sampled_from(["due", "due", "overdue", "not yet", "complete"]),
    next_dose=st.sampled_from([1, 2, 3, 4, 5]),
    earliest=st.just(ON - timedelta(days=3)),
)
answers = st.dictionaries(st.sampled_from(GROUPS), forecasts, min_size=1).map(
    lambda groups: Answer(id="c", assess_on=ON, edition="us-2025", groups=groups)
)
children = st.builds(
    Child,
    id=st.just("c"),
    born=st.sampled_from([ON - timedelta(days=n) for n in (65, 130, 190, 480, 1500, 1900, 6000)]),
)


@st.composite
def lots(draw: st.DrawFn) -> Lot:
    cvx, presentation = draw(st.sampled_from(PRODUCTS))
    return Lot(
        lot=f"L{draw(st.integers(0, 99))}",
        cvx=cvx,
        presentation=presentation,
        doses=draw(st.integers(0, 3)),
        expires=ON + timedelta(days=draw(st.integers(-1, 6))),
        funding=draw(st.sampled_from(["", "public", "private"])),
        cost=draw(st.sampled_from([None, 5.0, 7.5])),
    )


def score(need, options) -> tuple[float, ...]:
    """The criteria of the choice, written once more from the house rule."""
    groups = [group for option in options for group in option.serving.groups]
    return (
        -len(groups),
        sum(group == "PPSV" and "PCV" in need.wanted for group in groups),
        sum(bool(option.serving.leaves_line) for option in options),
        sum(option.serving.vaccine.key in ("PCV13", "DT", "Td") for option in options),
        sum(option.serving.injections for option in options),
        sum(option.lot.opened_at is None for option in options),
        sum((option.lot.expires - ON).days + ON.toordinal() for option in options),
        sum(option.lot.cost is None for option in options),
        sum((option.lot.cost or 0) * option.serving.injections for option in options),
        len(options),
    )


def allowed(options) -> bool:
    groups = [g for o in options for g in (*o.serving.groups, *o.serving.extra)]
    return len(groups) == len(set(groups)) and not {"PCV", "PPSV"} <= set(groups)


@settings(max_examples=150, deadline=None)
@given(children, answers, st.lists(lots(), max_size=8), st.sampled_from(["", "public"]))
def test_the_choice_is_the_best_of_all_subsets(child, answer, shelf, funding):
    choice = choose(child, ON, answer, shelf=shelf, funding=funding)
    need = need_of(child, ON, answer, funding=funding)
    options = options_of(need, shelf)
    sets = [s for n in range(len(options) + 1) for s in combinations(options, n) if allowed(s)]
    best = min(score(need, subset) for subset in sets)
    used = [
        o for o in options for p in choice.picks if o.lot is p.lot and o.serving.groups == p.groups
    ]
    assert allowed(used)
    assert score(need, used) == best
    covered = {group for pick in choice.picks for group in pick.groups}
    assert covered | {entry.group for entry in choice.unserved} == set(need.wanted)
    assert all(entry.why for entry in choice.unserved)


@settings(max_examples=60, deadline=None)
@given(
    children,
    answers,
    st.lists(lots(), max_size=8).flatmap(lambda s: st.permutations(s).map(lambda p: (s, p))),
)
def test_the_order_of_the_shelf_changes_nothing(child, answer, shelves):
    one, other = (choose(child, ON, answer, shelf=shelf) for shelf in shelves)
    assert [(p.vaccine, p.lot.key, p.lot.expires) for p in one.picks] == [
        (p.vaccine, p.lot.key, p.lot.expires) for p in other.picks
    ]
