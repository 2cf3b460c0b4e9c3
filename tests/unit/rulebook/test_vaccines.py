"""The product table against the published tables, on both sides of every limit."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import msgspec
import pytest

from traywise.calendar import add, next_day, parse_span
from traywise.rulebook.tables import check_source
from traywise.rulebook.vaccines import Vaccine, vaccines, vaccines_by_cvx

BORN = date(2024, 1, 31)
PRESENTATIONS = {"prefilled", "vial", "vial+diluent", "multidose", "oral", "spray", "ampoule"}


def on_age(age: str) -> date:
    return add(BORN, parse_span(age))


@pytest.mark.parametrize("vaccine", vaccines().values(), ids=lambda v: v.key)
def test_every_row_is_whole(vaccine: Vaccine):
    assert vaccine.cvx
    assert vaccine.groups
    assert vaccine.volumes
    assert 0 <= vaccine.soreness <= 5
    assert set(vaccine.presentations) <= PRESENTATIONS
    assert set(vaccine.latex_in) <= set(vaccine.presentations)
    assert set(vaccine.routes) <= {"IM", "SC", "PO", "NAS", "ID", "PC"}
    assert set(vaccine.places) <= set(vaccine.groups)
    assert {extra.group for extra in vaccine.extra_doses} <= set(vaccine.groups)
    assert not vaccine.line or vaccine.line_group in vaccine.groups
    # Only a product with a powder is mixed, and every such product says with what.
    assert ("vial+diluent" not in vaccine.presentations) or vaccine.diluent is not None


@pytest.mark.parametrize("vaccine", vaccines().values(), ids=lambda v: v.key)
def test_every_field_source_names_a_field_and_a_known_source(vaccine: Vaccine):
    fields = {field.name for field in msgspec.structs.fields(Vaccine)}
    cited = [
        *vaccine.field_sources.values(),
        *(limit.source for limit in vaccine.limits),
        *(extra.source for extra in vaccine.extra_doses),
    ]
    assert set(vaccine.field_sources) <= fields
    assert [f for s in cited for f in check_source(s, Path("vaccines.toml"), vaccine.key)] == []


def test_the_first_row_of_a_code_is_true_of_all_its_products():
    first = vaccines_by_cvx()
    for vaccine in vaccines().values():
        for cvx in vaccine.cvx:
            strict = first[cvx]
            if strict.only_in == vaccine.only_in:
                assert set(strict.routes) <= set(vaccine.routes)
                shared = set(strict.presentations) & set(vaccine.presentations)
                assert set(vaccine.latex_in) & shared <= set(strict.latex_in)


# (key, first age in licence, first age out of it or None); sources stand in the rows:
# administration tables of Immunize.org, MMWR 2024;73(RR-5), MMWR 2020;69:136, IDP 2024;13:12.
AGES = [
    ("HepB", "birth", "20 years"),
    ("HepB-adult-10", "11 years", "16 years"),
    ("HepB-CpG", "18 years", None),
    ("RV1", "6 weeks", "8 months 1 day"),
    ("RV5", "6 weeks", "8 months 1 day"),
    ("DTaP", "6 weeks", "7 years"),
    ("Td", "7 years", None),
    ("Tdap", "10 years", None),
    ("Hib-PRP-T", "6 weeks", "5 years"),
    ("Hib-PRP-OMP", "2 months", "6 years"),
    ("PCV15", "6 weeks", None),
    ("PCV20", "6 weeks", None),
    ("PPSV23", "2 years", None),
    ("IPV", "6 weeks", None),
    ("IIV3", "6 months", None),
    ("IIV3-from-3-years", "3 years", None),
    ("RIV3", "18 years", None),
    ("LAIV3", "2 years", "50 years"),
    ("MMR", "12 months", None),
    ("VAR", "12 months", None),
    ("MMRV", "12 months", "13 years"),
    ("HepA", "12 months", "19 years"),
    ("HPV9", "9 years", "46 years"),
    ("MenACWY-CRM", "2 months", "56 years"),
    ("MenACWY-TT", "2 years", None),
    ("MenB-4C", "10 years", "26 years"),
    ("MenABCWY-TT-FHbp", "10 years", "26 years"),
    ("COVID-mRNA-3", "6 months", "5 years"),
    ("COVID-mRNA-10", "5 years", "12 years"),
    ("COVID-mRNA-30", "12 years", None),
    ("COVID-mRNA-25", "6 months", "12 years"),
    ("COVID-mRNA-50", "12 years", None),
    ("COVID-protein", "12 years", None),
    ("dengue-CYD", "9 years", "17 years"),
    ("nirsevimab-50", "birth", "8 months"),
    ("nirsevimab-100", "birth", "20 months"),
    ("clesrovimab", "birth", "8 months"),
    ("DTaP-HepB-IPV", "6 weeks", "7 years"),
    ("DTaP-IPV", "4 years", "7 years"),  # check 40 of the administration sheet
    ("DTaP-IPV/Hib", "6 weeks", "5 years"),
    ("DTaP-IPV-Hib-HepB", "6 weeks", "5 years"),  # check 41: not on the fifth birthday
    ("YF", "9 months", None),
    ("JE", "2 months", None),
    ("TCV", "6 months", "46 years"),
]


@pytest.mark.parametrize(("key", "first", "before"), AGES)
def test_licensed_ages_hold_on_both_sides(key: str, first: str, before: str | None):
    vaccine = vaccines()[key]
    assert vaccine.in_age(BORN, on_age(first))
    if first != "birth":
        assert not vaccine.in_age(BORN, next_day(on_age(first), -1))
    if before is not None:
        assert vaccine.in_age(BORN, next_day(on_age(before), -1))
        assert not vaccine.in_age(BORN, on_age(before))


def test_a_schedule_row_that_names_tdap_opens_it_from_seven_years():
    tdap = vaccines()["Tdap"]  # catch-up from 7 years: from memory
    assert not tdap.in_age(BORN, on_age("7 years"))
    assert tdap.in_age(BORN, on_age("7 years"), named=True)
    assert not tdap.in_age(BORN, next_day(on_age("7 years"), -1), named=True)


# (key, presentation, age, kg, mL or None, injections); numbers of the checks in brackets.
VOLUMES = [
    ("HepB", "prefilled", "1 day", None, 0.5, 1),  # 1
    ("HepB-adult-10", "vial", "13 years", None, 1.0, 1),  # 16
    ("RV1", "vial+diluent", "2 months", None, 1.0, 1),
    ("RV1", "oral", "2 months", None, 1.5, 1),  # from memory
    ("RV5", "oral", "2 months", None, 2.0, 1),
    ("IIV3-multidose-quarter", "multidose", "20 months", None, 0.25, 1),  # 12
    ("IIV3-multidose-quarter", "multidose", "36 months", None, 0.5, 1),
    ("IIV3", "prefilled", "40 months", None, 0.5, 1),  # 13
    ("LAIV3", "spray", "3 years", None, 0.2, 1),
    ("nirsevimab-50", "prefilled", "3 months", 4.9, 0.5, 1),  # 15
    ("nirsevimab-50", "prefilled", "3 months", 5.0, None, 1),
    ("nirsevimab-100", "prefilled", "3 months", 4.9, None, 1),
    ("nirsevimab-100", "prefilled", "3 months", 5.0, 1.0, 1),
    ("nirsevimab-100", "prefilled", "3 months", None, None, 1),
    ("nirsevimab-100", "prefilled", "10 months", None, 1.0, 2),  # 14
    ("clesrovimab", "prefilled", "3 months", None, 0.7, 1),
    ("JE", "prefilled", "30 months", None, 0.25, 1),  # 17
    ("JE", "prefilled", "36 months", None, 0.5, 1),  # 18
    ("BCG", "multidose", "6 months", None, 0.05, 1),  # 19
    ("BCG", "multidose", "12 months", None, 0.1, 1),  # 20
    ("COVID-mRNA-25", "vial", "3 years", None, 0.25, 1),
    ("COVID-mRNA-10", "vial", "6 years", None, 0.3, 1),
    ("COVID-mRNA-50", "prefilled", "12 years", None, 0.5, 1),
]


@pytest.mark.parametrize(("key", "presentation", "age", "kg", "ml", "injections"), VOLUMES)
def test_volumes_by_age_weight_and_presentation(key, presentation, age, kg, ml, injections):
    volume = vaccines()[key].volume_on(BORN, on_age(age), presentation, kg)
    assert (None if volume is None else volume.ml) == ml
    assert volume is None or volume.injections == injections


def test_an_unknown_weight_is_named_where_it_decides():
    assert vaccines()["nirsevimab-50"].needs_weight(BORN, on_age("3 months"), "prefilled")
    assert not vaccines()["clesrovimab"].needs_weight(BORN, on_age("3 months"), "prefilled")


# Keeping time after mixing, minutes: Immunize.org, Vaccines with Diluents; package insert for 316.
MIXED = [
    ("MMR", 480),  # 22
    ("VAR", 30),  # 21
    ("MMRV", 30),
    ("Hib-PRP-T", 1440),
    ("DTaP-IPV/Hib", 30),
    ("MenACWY-CRM", 480),
    ("MenABCWY-TT-FHbp", 240),
    ("RV1", 1440),
    ("YF", 60),
    ("dengue-CYD", 30),
    ("rabies-HDCV", 30),
    ("BCG", 360),
]


@pytest.mark.parametrize(("key", "minutes"), MIXED)
def test_keeping_times_after_mixing(key: str, minutes: int):
    diluent = vaccines()[key].diluent
    assert diluent is not None
    assert diluent.use_within_minutes == minutes


# Places in the series: Infectious Diseases of Poverty 2024;13:12, Table 4; MMWR 2020;69:136.
@pytest.mark.parametrize(
    ("key", "group", "inside", "outside"),
    [
        ("DTaP-HepB-IPV", "DTaP", 3, 4),
        ("DTaP-HepB-IPV", "IPV", 3, 4),
        ("DTaP-IPV", "DTaP", 5, 4),
        ("DTaP-IPV", "IPV", 4, 3),
        ("DTaP-IPV/Hib", "DTaP", 4, 5),
        ("DTaP-IPV-Hib-HepB", "Hib", 3, 4),
    ],
)
def test_places_in_the_series(key: str, group: str, inside: int, outside: int):
    places = vaccines()[key].places[group]
    assert inside in places
    assert outside not in places


# Natural rubber: CDC, Appendix B, latex in packaging, 2021.
@pytest.mark.parametrize(
    ("key", "latex_in"),
    [
        ("DTaP", {"prefilled"}),
        ("DTaP-5", set()),
        ("DTaP-HepB-IPV", {"prefilled"}),
        ("DTaP-IPV/Hib", set()),
        ("DTaP-IPV-Hib-HepB", set()),
        ("Hib-PRP-T", set()),
        ("Hib-PRP-OMP", {"vial"}),
        ("HepB", {"prefilled", "vial"}),
        ("HepB-CpG", set()),
        ("HPV9", set()),
        ("RV1", {"vial+diluent"}),
        ("RV5", set()),
    ],
)
def test_latex_in_packaging(key: str, latex_in: set[str]):
    assert set(vaccines()[key].latex_in) == latex_in


def test_the_influenza_vial_gives_ten_doses_at_most():
    assert vaccines()["IIV3-multidose"].multidose_doses == 10  # MMWR 2024;73(RR-5); check 36
    assert vaccines()["IIV3-multidose"].multidose_hours == 28 * 24
    assert vaccines()["IPV"].multidose_hours is None  # printed expiry
