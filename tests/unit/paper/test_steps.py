"""What is said once for several places, and what stays with each."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.paper.invented import place

from traywise.paper.facts import marked_steps, needle_alternatives, short_why
from traywise.paper.steps import (
    EVERY_DOSE,
    EVERY_INJECTION,
    own_techniques,
    split_sources,
    split_steps,
    split_why,
)
from traywise.tray.plan import Needle, Place

HANDS, WIPE, LABEL = "Clean your hands.", "Wipe the skin.", "Label the syringe."


def injection(n: int, *steps: str, site: str = "LT", **more: object) -> Place:
    return place(n, f"V{n}", site, steps=steps, technique="", **more)


def oral(n: int, *steps: str) -> Place:
    return place(n, f"V{n}", None, route="PO", needle=None, steps=steps, technique="slowly")


@pytest.mark.parametrize(
    ("places", "common", "own"),
    [
        ([], {}, {}),
        ([injection(1, HANDS, WIPE)], {}, {1: (HANDS, WIPE)}),
        # One injection and one dose by mouth: nothing is taken from either.
        ([oral(1, HANDS), injection(2, HANDS)], {}, {1: (HANDS,), 2: (HANDS,)}),
        (
            [injection(1, HANDS, "Shake.", WIPE), injection(2, HANDS, WIPE, "Draw up.")],
            {EVERY_INJECTION: (HANDS, WIPE)},
            {1: ("Shake.",), 2: ("Draw up.",)},
        ),
        # Nearly the same words are not the same step.
        (
            [injection(1, "Draw up 0.5 mL."), injection(2, "Draw up 1 mL.")],
            {},
            {1: ("Draw up 0.5 mL.",), 2: ("Draw up 1 mL.",)},
        ),
        # In two of three places: stays where it is.
        (
            [injection(1, LABEL), injection(2, LABEL), injection(3)],
            {},
            {1: (LABEL,), 2: (LABEL,), 3: ()},
        ),
        (
            [oral(1, HANDS, WIPE), injection(2, HANDS, LABEL), injection(3, HANDS, LABEL)],
            {EVERY_DOSE: (HANDS,), EVERY_INJECTION: (LABEL,)},
            {1: (WIPE,), 2: (), 3: ()},
        ),
    ],
)
def test_common_steps(places: Sequence[Place], common: object, own: object) -> None:
    shared, left = split_steps(places)
    assert {one.title: one.texts for one in shared} == common
    assert left == own


def test_the_way_to_a_site_is_told_once_for_its_places() -> None:
    places = [
        injection(1, "Left thigh, upper. Bare the leg.", site_text="left thigh, upper"),
        injection(2, "Right thigh. Bare the leg.", site="RT", site_text="right thigh"),
        injection(3, "Left deltoid. Bare the arm.", site="LD", site_text="left deltoid"),
    ]
    shared, own = split_steps(places)
    assert [(one.title, one.texts) for one in shared] == [
        ("Where on the left and right thigh", ("Bare the leg.",))
    ]
    assert own == {1: (), 2: (), 3: ("Bare the arm.",)}


def test_a_technique_is_told_once_for_all_that_share_it() -> None:
    flat, straight, pinched = "skin stretched flat", "straight in", "fat pinched up"
    one, other = (place(n, "V", "LT", technique=straight) for n in (1, 2))
    assert split_steps([one, other])[0] == ((EVERY_INJECTION, (straight,)),)
    assert own_techniques([one, other]) == {1: "", 2: ""}
    stretched = place(2, "V", "RT", technique=flat)
    assert own_techniques([one, stretched]) == {1: straight, 2: flat}
    assert own_techniques([one]) == {1: straight}
    under = place(3, "V", "LA", route="SC", technique=pinched)
    assert own_techniques([one, other, under]) == {1: "", 2: "", 3: pinched}
    shared, own = split_steps([one, other, under])
    assert shared == (("For every injection into muscle (IM)", (straight,)),)
    assert own == {1: (), 2: (), 3: ()}


def test_mixing_stays_at_its_place_though_a_whole_route_says_the_same() -> None:
    mixed = [injection(n, "Mix.", route="SC") for n in (1, 2)]
    shared, own = split_steps([*mixed, injection(3, "Shake.")])
    assert shared == ()
    assert own == {1: ("Mix.",), 2: ("Mix.",), 3: ("Shake.",)}


def test_reasons_and_sources_too() -> None:
    lot = "lot L1 expires 2027-06-30"
    places = [
        place(n, "V", "LT", lot="L1", why=(f"due {n}", lot, "thigh"), source=("a", f"b{n}"))
        for n in (1, 2)
    ]
    shared, own = split_why(places)
    assert [one.texts for one in shared] == [("thigh",)]
    assert own == {1: ("due 1",), 2: ("due 2",)}, "lot and expiry stand beside it already"
    shared, own = split_sources(places)
    assert [one.texts for one in shared] == [("a",)]
    assert own == {1: ("b1",), 2: ("b2",)}


STEPS = st.lists(st.sampled_from("abcdefg"), max_size=6, unique=True).map(tuple)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["IM", "SC", "PO"]), STEPS), max_size=5))
def test_no_step_is_lost_and_none_is_added(drawn: list[tuple[str, tuple[str, ...]]]) -> None:
    places = [
        place(n, "V", None, route=route, steps=steps, technique="")
        for n, (route, steps) in enumerate(drawn, start=1)
    ]
    shared, own = split_steps(places)
    of_all = {text for one in shared if one.title == EVERY_DOSE for text in one.texts}
    of_injections = {text for one in shared if one.title == EVERY_INJECTION for text in one.texts}
    for one in places:
        of_route = {
            text for title, texts in shared if title.endswith(f"({one.route})") for text in texts
        }
        told = set(own[one.n]) | of_all | of_route
        told |= of_injections if one.route != "PO" else set()
        assert told == set(one.steps)


def test_a_keeping_time_is_a_caution_and_told_once() -> None:
    mixed = place(1, "VAR", "LA", use_within_minutes=30, cautions=("never shake",))
    assert marked_steps(mixed, ["draw up"]) == [
        ("–", "Draw up."),
        ("▲", "use within 30 min of mixing"),
        ("▲", "Never shake."),
    ]
    told = marked_steps(mixed, ["Once mixed: use within 30 minutes."])
    assert told[0] == ("▲", "Once mixed: use within 30 minutes.")
    assert len(told) == 2


@pytest.mark.parametrize(
    ("needle", "missing", "shown"),
    [
        (Needle(gauge=25, length_mm=25), None, ""),
        (Needle(gauge=23, length_mm=25), None, "25 G × 25 mm (1 in)"),
        (None, "get one", ""),
    ],
)
def test_other_needles_only_where_the_first_choice_does_not_lie_ready(
    needle: Needle | None, missing: str | None, shown: str
) -> None:
    choices = (Needle(gauge=25, length_mm=25), Needle(gauge=23, length_mm=25))
    one = place(1, "V", "LT", needle=needle, needle_missing=missing, needle_choices=choices)
    assert needle_alternatives(one) == shown


def test_a_long_why_is_cut_at_a_whole_reason_and_says_so() -> None:
    assert short_why(["a" * 30, "b" * 30], 64) == f"{'a' * 30}; {'b' * 30}"
    assert short_why(["a" * 30, "b" * 30], 63) == f"{'a' * 30} …"
    assert short_why(["a" * 300], 60) == "a" * 300, "the first reason always"
    assert short_why([], 60) == ""
