"""The choice of products for one child, rule by rule."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from traywise.calendar import add, parse_span
from traywise.record.child import Child, CvxCode, DoseGiven
from traywise.schedule.answer import Answer, GroupForecast
from traywise.screening.findings import Finding
from traywise.shelf.lot import Lot
from traywise.tray.blocks import blocks_of
from traywise.tray.need import Block, product_key
from traywise.tray.products import Choice, choose

ON = date(2026, 11, 24)
NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


def child_aged(age: str, doses: list[tuple[str, str]] | None = None, **more) -> Child:
    """A child who reaches ``age`` today (days are taken off); doses as (CVX, date)."""
    born = next(
        day for n in range(8000) if add(day := ON - timedelta(days=n), parse_span(age)) <= ON
    )
    given = tuple(
        DoseGiven(on=date.fromisoformat(day), cvx=CvxCode(cvx)) for cvx, day in doses or []
    )
    return Child(id="c1", born=born, doses=given, **more)


def due(number: int | None = 1, **more) -> GroupForecast:
    fields = {"status": "due", "next_dose": number, "earliest": ON, "due": ON}
    return GroupForecast(**{**fields, **more})


def answer(edition: str = "us-2025", **groups: GroupForecast) -> Answer:
    return Answer(id="c1", assess_on=ON, edition=edition, groups=groups)


CODES = {
    "HepB": "08", "RV1": "119", "RV5": "116", "DTaP": "20", "Tdap": "115", "PRP-T": "48",
    "PRP-OMP": "49", "PCV20": "216", "PCV13": "133", "PPSV23": "33", "IPV": "10", "IIV3": "140",
    "IIV3-MDV": "141", "MMR": "03", "VAR": "21", "MMRV": "94", "MenACWY-CRM": "136",
    "MenB-4C": "163", "MenB-FHbp": "162", "MenABCWY": "316", "nirsevimab": "307",
    "DTaP-HepB-IPV": "110", "DTaP-IPV": "130", "DTaP-IPV/Hib": "120", "hexavalent": "146",
    "fIPV": "324", "DT": "28",
}  # fmt: skip


def lot(what: str, number: str = "", **more) -> Lot:
    usual = {
        "cvx": CODES[what],
        "lot": number or f"L-{what}",
        "presentation": "prefilled",
        "doses": 5,
        "expires": date(2027, 6, 30),
    }
    return Lot(**{**usual, **more})


def pick_names(choice: Choice) -> list[str]:
    return sorted(pick.vaccine for pick in choice.picks)


def reasons(choice: Choice) -> dict[str, str]:
    return {entry.group: entry.why for entry in choice.unserved}


TWO_MONTHS = answer(DTaP=due(), HepB=due(2), IPV=due(), Hib=due(), PCV=due(), RV=due())
POWDER = {"presentation": "vial+diluent"}


def test_one_combination_in_place_of_four_injections():
    shelf = [
        lot("DTaP"), lot("HepB"), lot("IPV"), lot("PRP-T", **POWDER), lot("PCV20"),
        lot("RV5", presentation="oral"), lot("hexavalent"), lot("DTaP-HepB-IPV"),
    ]  # fmt: skip
    choice = choose(child_aged("2 months"), ON, TWO_MONTHS, shelf=shelf)
    assert pick_names(choice) == ["DTaP-IPV-Hib-HepB", "PCV20", "RV5"]
    assert choice.unserved == ()


def test_more_groups_go_before_fewer_injections():
    # The combination lacks Hib; with it alone Hib would stay away.
    shelf = [lot("DTaP-HepB-IPV"), lot("PRP-T", **POWDER)]
    choice = choose(child_aged("2 months"), ON, TWO_MONTHS, shelf=shelf)
    assert pick_names(choice) == ["DTaP-HepB-IPV", "Hib-PRP-T"]
    assert reasons(choice)["PCV"] == "no lot of PCV on the shelf"


def test_then_the_opened_vial_the_sooner_expiry_and_the_cheaper_lot():
    child, need = child_aged("4 years"), answer(Flu=due())
    late, soon = lot("IIV3", "late"), lot("IIV3", "soon", expires=date(2027, 1, 31))
    dear, cheap = lot("IIV3", "dear", cost=20.0), lot("IIV3", "cheap", cost=10.0)
    vial = lot(
        "IIV3-MDV", "vial", presentation="multidose", opened_at=NOW, expires=date(2027, 6, 30)
    )
    assert (
        choose(child, ON, need, shelf=[late, soon, vial], now=NOW, zone=UTC).picks[0].lot.lot
        == "vial"
    )
    assert choose(child, ON, need, shelf=[late, soon]).picks[0].lot.lot == "soon"
    assert choose(child, ON, need, shelf=[dear, cheap]).picks[0].lot.lot == "cheap"


# (age, doses due, what lies there, groups served, part of the reason for the rest); the ages
# and places are those of Infectious Diseases of Poverty 2024;13:12, MMWR 2020;69:136 and the
# Immunize.org answers cited in vaccines.toml.
REFUSED = [
    # check 40: DTaP-IPV for a 3-year-old
    ("3 years", {"DTaP": due(5), "IPV": due(4)}, lot("DTaP-IPV"), "DTaP", "from 4 years"),
    ("4 years", {"DTaP": due(5), "IPV": due(4)}, lot("DTaP-IPV"), None, ""),
    ("7 years", {"DTaP": due(5), "IPV": due(4)}, lot("DTaP-IPV"), "DTaP", "before 7 years"),
    ("4 years", {"DTaP": due(4), "IPV": due(4)}, lot("DTaP-IPV"), "DTaP", "not for dose 4 of DTaP"),
    # check 41: hexavalent on the fifth birthday
    (
        "5 years",
        {g: due(3) for g in ("DTaP", "IPV", "Hib", "HepB")},
        lot("hexavalent"),
        "Hib",
        "before 5 years",
    ),
    # its third dose from 24 weeks
    (
        "167 days",
        {g: due(3) for g in ("DTaP", "IPV", "Hib", "HepB")},
        lot("hexavalent"),
        "DTaP",
        "24 weeks",
    ),
    ("24 weeks", {g: due(3) for g in ("DTaP", "IPV", "Hib", "HepB")}, lot("hexavalent"), None, ""),
    # check 39: the one-vial MenACWY-CRM for a 4-year-old
    ("4 years", {"MenACWY": due()}, lot("MenACWY-CRM", presentation="vial"), "MenACWY", "10 years"),
    ("4 years", {"MenACWY": due()}, lot("MenACWY-CRM", **POWDER), None, ""),
    ("10 years", {"MenACWY": due()}, lot("MenACWY-CRM", presentation="vial"), None, ""),
    # first rotavirus dose at 14 weeks 6 days and a day later
    ("14 weeks 6 days", {"RV": due(1)}, lot("RV5", presentation="oral"), None, ""),
    ("15 weeks", {"RV": due(1)}, lot("RV5", presentation="oral"), "RV", "15 weeks"),
    ("20 weeks", {"RV": due(2)}, lot("RV5", presentation="oral"), None, ""),
    # MMRV as a first dose under 4 years
    ("12 months", {"MMR": due(1), "VAR": due(1)}, lot("MMRV", **POWDER), "MMR", "preferred"),
    ("48 months", {"MMR": due(1), "VAR": due(1)}, lot("MMRV", **POWDER), None, ""),
    ("24 months", {"MMR": due(2), "VAR": due(2)}, lot("MMRV", **POWDER), None, ""),
    # a component that is not due, or not yet, or complete
    ("2 months", {"DTaP": due(), "IPV": due()}, lot("hexavalent"), "DTaP", "also holds Hib"),
    (
        "2 months",
        {"MMR": due(2), "VAR": due(2, earliest=ON + timedelta(days=1))},
        lot("MMRV", **POWDER),
        "VAR",
        "counts only from",
    ),
    # the schedule's own list of products
    ("12 years", {"DTaP": due(1, products=("Td",))}, lot("Tdap"), "DTaP", "names Td"),
    ("7 years", {"DTaP": due(1, products=("Tdap",))}, lot("Tdap"), None, ""),
    ("7 years", {"DTaP": due(1)}, lot("Tdap"), "DTaP", "from 10 years"),
    # a product of another setting
    ("4 months", {"IPV": due(2)}, lot("fIPV", presentation="multidose"), "IPV", "not used under"),
    # expired, empty, held
    ("4 years", {"Flu": due()}, lot("IIV3", expires=ON), None, ""),
    ("4 years", {"Flu": due()}, lot("IIV3", expires=ON - timedelta(days=1)), "Flu", "expired"),
    ("4 years", {"Flu": due()}, lot("IIV3", doses=0), "Flu", "empty"),
    ("4 years", {"Flu": due()}, lot("IIV3", held="recalled"), "Flu", "recalled"),
]  # fmt: skip


@pytest.mark.parametrize(("age", "groups", "there", "refused", "why"), REFUSED)
def test_a_rule_refuses_on_one_side_of_its_limit_only(age, groups, there, refused, why):
    if why == "counts only from":
        age = "24 months"
    choice = choose(child_aged(age), ON, answer(**groups), shelf=[there])
    if refused is None:
        assert choice.unserved == ()
        assert choice.picks
    else:
        assert choice.picks == ()
        assert why in reasons(choice)[refused]


def test_an_extra_hepb_dose_in_a_combination_is_allowed_up_to_four():
    # CDC notes: four doses are allowed when a combination follows the birth dose (from memory).
    groups = {g: due(2) for g in ("DTaP", "IPV")}
    later = GroupForecast(status="not yet", next_dose=3, earliest=ON + timedelta(days=60))
    shelf = [lot("DTaP-HepB-IPV")]
    born_doses = [("08", "2026-07-20"), ("08", "2026-09-22")]
    child = child_aged("4 months", born_doses)
    choice = choose(child, ON, answer(HepB=later, **groups), shelf=shelf)
    assert choice.picks[0].extra == ("HepB",)
    many = child_aged("4 months", [*born_doses, ("110", "2026-09-22"), ("110", "2026-10-20")])
    assert choose(many, ON, answer(HepB=later, **groups), shelf=shelf).picks == ()
    soon = child_aged("4 months", [("08", "2026-10-28")])  # 27 days ago
    assert choose(soon, ON, answer(HepB=later, **groups), shelf=shelf).picks == ()
    against = GroupForecast(status="contraindicated", why="anaphylaxis to yeast")
    assert choose(child, ON, answer(HepB=against, **groups), shelf=shelf).picks == ()


def test_meningococcal_b_goes_on_with_its_line_or_not_at_all():
    begun = child_aged("17 years", [("163", "2026-05-01")])
    need = answer(MenB=due(2))
    shelf = [lot("MenB-4C"), lot("MenB-FHbp", expires=date(2026, 12, 31))]
    assert pick_names(choose(begun, ON, need, shelf=shelf)) == ["MenB-4C"]
    alone = choose(begun, ON, need, shelf=shelf[1:])
    assert "goes on with it" in reasons(alone)["MenB"]
    assert alone.unserved[0].would_serve == ("MenB-4C",)
    both = answer(MenB=due(2), MenACWY=due(2))
    assert choose(begun, ON, both, shelf=[lot("MenABCWY", **POWDER)]).picks == ()


def test_rotavirus_keeps_its_line_if_it_can_and_is_given_anyway():
    begun = child_aged("4 months", [("119", "2026-09-24")])
    need = answer(RV=due(2))
    rv1 = lot("RV1", presentation="oral")
    rv5 = lot("RV5", presentation="oral", expires=date(2026, 12, 31))
    assert pick_names(choose(begun, ON, need, shelf=[rv1, rv5])) == ["RV1"]
    other = choose(begun, ON, need, shelf=[rv5])
    assert pick_names(other) == ["RV5"]
    assert any("begun with RV1" in why for why in other.picks[0].why)


def test_hib_leaves_its_line_freely_at_the_booster():
    begun = [("49", "2025-10-01"), ("49", "2025-12-01")]
    groups = {"DTaP": due(4), "IPV": due(3), "Hib": due(3)}
    shelf = [
        lot("DTaP-IPV/Hib", **POWDER),
        lot("PRP-OMP", presentation="vial"),
        lot("DTaP"),
        lot("IPV"),
    ]
    booster = choose(child_aged("15 months", begun), ON, answer(**groups), shelf=shelf)
    assert pick_names(booster) == ["DTaP-IPV/Hib"]
    primary = choose(
        child_aged("4 months", [("49", "2026-09-24")]),
        ON, answer(DTaP=due(2), IPV=due(2), Hib=due(2)), shelf=shelf,
    )  # fmt: skip
    assert pick_names(primary) == ["DTaP", "Hib-PRP-OMP", "IPV"]


def test_funding_sources_are_not_mixed():
    need, shelf = answer(PCV=due()), [lot("PCV20", funding="private")]
    child = child_aged("2 months", answers={"funding": "public"})
    assert "funding is public" in reasons(choose(child, ON, need, shelf=shelf))["PCV"]
    assert choose(child, ON, need, shelf=shelf, funding="private").picks
    assert choose(child_aged("2 months"), ON, need, shelf=shelf).picks
    assert choose(child, ON, need, shelf=[lot("PCV20")]).picks


def test_pcv_and_ppsv_are_not_given_on_one_day_and_pcv_goes_first():
    shelf = [lot("PCV20"), lot("PPSV23", expires=date(2026, 12, 31))]
    choice = choose(child_aged("3 years"), ON, answer(PPSV=due(), PCV=due()), shelf=shelf)
    assert pick_names(choice) == ["PCV20"]
    assert choice.unserved[0].until == ON + timedelta(days=56)
    assert pick_names(choose(child_aged("3 years"), ON, answer(PPSV=due()), shelf=shelf)) == [
        "PPSV23"
    ]


def test_a_blocked_component_or_part_closes_the_product_and_another_is_taken():
    need = answer(DTaP=due(), IPV=due(), HepB=due(2))
    shelf = [lot("DTaP-HepB-IPV"), lot("DTaP", presentation="vial"), lot("IPV"), lot("HepB")]
    child = child_aged("2 months")
    latex = choose(child, ON, need, {"latex": Block(why="anaphylaxis to latex")}, shelf)
    assert pick_names(latex) == ["DTaP", "IPV"]
    assert "latex" in reasons(latex)["HepB"]
    yeast = choose(child, ON, need, {"component yeast": Block(why="anaphylaxis to yeast")}, shelf)
    assert pick_names(yeast) == ["DTaP", "IPV"]
    group = choose(child, ON, need, {"HepB": Block(why="wait", until=date(2026, 12, 1))}, shelf)
    assert pick_names(group) == ["DTaP", "IPV"]
    assert group.unserved[0].until == date(2026, 12, 1)


def test_a_quarter_millilitre_comes_from_the_vial_only():
    # MMWR 2024;73(RR-5): check 12, 20 months, product whose syringe starts at 3 years.
    need, child = answer(Flu=due()), child_aged("20 months")
    syringe = lot("IIV3", vaccine="IIV3-from-3-years")
    vial = lot("IIV3-MDV", presentation="multidose", vaccine="IIV3-multidose-quarter")
    choice = choose(child, ON, need, shelf=[syringe, vial])
    assert choice.picks[0].volume_ml == 0.25
    assert "from 3 years" in reasons(choose(child, ON, need, shelf=[syringe]))["Flu"]


def test_an_unknown_weight_is_named_and_two_syringes_need_two_doses():
    need, shelf = answer(RSV=due()), [lot("nirsevimab", doses=1)]
    assert (
        "weight is not recorded"
        in reasons(choose(child_aged("3 months"), ON, need, shelf=shelf))["RSV"]
    )
    assert choose(child_aged("3 months", weight_kg=5.0), ON, need, shelf=shelf).picks
    older = child_aged("10 months", weight_kg=9.0)
    assert "too few" in reasons(choose(older, ON, need, shelf=shelf))["RSV"]
    (pick,) = choose(older, ON, need, shelf=[lot("nirsevimab", doses=2)]).picks
    assert (pick.injections, pick.volume_ml) == (2, 1.0)


def test_what_would_serve_is_named():
    choice = choose(child_aged("5 years"), ON, answer(DTaP=due(5), IPV=due(4)), shelf=[])
    assert set(choice.unserved[0].would_serve) >= {"DTaP", "DTaP-5", "DTaP-IPV"}
    assert "DTaP-HepB-IPV" not in choice.unserved[0].would_serve


def test_what_is_left_to_the_clinician_is_given_only_when_asked():
    need = answer(MenB=due(1, status="clinician decides"))
    child, shelf = child_aged("16 years"), [lot("MenB-4C")]
    assert choose(child, ON, need, shelf=shelf) == Choice()
    assert choose(child, ON, need, shelf=shelf, asked=frozenset({"MenB"})).picks


def test_dt_is_only_for_a_child_who_may_not_have_pertussis_vaccine():
    need, child, shelf = (
        answer(DTaP=due()),
        child_aged("2 months"),
        [lot("DT", presentation="vial")],
    )
    assert "only for a child who" in reasons(choose(child, ON, need, shelf=shelf))["DTaP"]
    why = Block(why="encephalopathy after a dose")
    assert choose(child, ON, need, {product_key("DTaP"): why}, shelf).picks
    assert choose(child, ON, need, {"DTaP": why}, shelf).picks == ()  # the whole group is barred


def test_screening_closes_a_product_without_closing_its_group():
    finding = Finding(
        key="x", kind="contraindication", action="switch", groups=("DTaP",), vaccines=("DTaP",),
        presentations={"DTaP": ("prefilled",)}, text="no rubber", why="latex", source="from memory",
    )  # fmt: skip
    need, child = answer(DTaP=due()), child_aged("2 months")
    blocked = blocks_of([finding])
    assert choose(child, ON, need, blocked, [lot("DTaP")]).picks == ()
    assert choose(child, ON, need, blocked, [lot("DTaP", presentation="vial")]).picks
