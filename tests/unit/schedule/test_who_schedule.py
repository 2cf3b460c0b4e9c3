"""WHO's schedule and its programme variants, worked by hand on both sides of each limit.

Source: WHO, SMART Guidelines - Immunizations, decision tables IMMZ.D2.DT; days worked by hand,
months by the calendar. What is from memory is marked in the rows and in
docs/evidence-editions.md.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from tests.schedule_words import ask, at, child, day, verdicts

from traywise.screening.answer_for import answer_for

BORN = day("2025-01-15")
CVX = {
    "BCG": "19",
    "HepB": "08",
    "OPV": "178",
    "IPV": "10",
    "DTaP": "20",
    "Hib": "48",
    "PCV": "216",
    "RV": "116",
    "Measles": "05",
    "Rubella": "06",
    "Mumps": "07",
    "VAR": "21",
    "HPV": "165",
    "YF": "37",
    "JE": "134",
    "MenC": "103",
    "MenACWY": "203",
    "Typhoid": "190",
    "Malaria": "67",
    "HepA": "83",
    "Flu": "140",
}
ROUTINE = {
    "BCG": 1,
    "HepB": 4,
    "OPV": 3,
    "IPV": 2,
    "DTaP": 6,
    "Hib": 3,
    "PCV": 3,
    "RV": 3,
    "Measles": 2,
    "Rubella": 1,
    "HPV": 2,
}


@pytest.mark.parametrize(
    ("edition", "changed"),
    [
        ("who", {}),
        ("who-hpv-1-dose", {"HPV": 1}),
        ("who-pcv-2p1", {"PCV": 3}),
        ("who-hib-3p1", {"Hib": 4}),
        ("who-hib-2p1", {"Hib": 3}),
        ("who-hepb-birth-and-2", {"HepB": 3}),
        ("who-polio-ipv-only", {"IPV": 3, "OPV": 0}),
        ("who-polio-sequential", {"OPV": 2}),
        ("who-polio-early-ipv", {}),
        ("who-measles-low-transmission", {}),
        ("who-rubella-low-incidence", {}),
        ("who-mumps", {"Mumps": 2}),
        ("who-varicella-2-doses", {"VAR": 2}),
        ("who-menc", {"MenC": 3}),
        ("who-malaria", {"Malaria": 4}),
        ("who-yellow-fever", {"YF": 1}),
        ("who-je-inactivated", {"JE": 2}),
        ("who-hepa", {"HepA": 2}),
    ],
)
def test_every_due_dose_on_its_day_completes_the_published_series(
    edition: str, changed: dict[str, int]
):
    wanted = ROUTINE | changed
    doses: list[tuple[date, str]] = []
    today = BORN
    while True:
        answer = ask(BORN, doses, today, edition=edition)
        open_days = {
            group: max(answer.groups[group].due, answer.groups[group].until or BORN)
            for group in wanted
            if answer.groups[group].due
            and answer.groups[group].status not in ("clinician decides", "complete")
        }
        if not open_days or min(open_days.values()) > at(BORN, "18 years"):
            break
        today = max(today, min(open_days.values()))
        doses += [(today, CVX[group]) for group, due in open_days.items() if due <= today]
    answer = ask(BORN, doses, today, edition=edition)
    assert {group: answer.groups[group].valid_doses for group in wanted} == wanted
    assert {v.status for dose in answer.doses for v in dose.groups.values()} <= {"valid"}
    left = {group: answer.groups[group].status for group in wanted if wanted[group]}
    assert set(left.values()) == {"complete"}, left


def test_two_doses_of_the_two_dose_rotavirus_product_are_enough_and_a_mixture_needs_three():
    first, second = at(BORN, "6 weeks"), at(BORN, "10 weeks")
    one = ask(BORN, [(first, "119"), (second, "119")], second, edition="who").groups["RV"]
    other = ask(BORN, [(first, "119"), (second, "116")], second, edition="who").groups["RV"]
    assert one.status == "complete"
    assert (other.status, other.next_dose) == ("not yet", 3)


# edition, days or age at the day asked, doses (age in days, CVX), conditions, group, status, dose
LIMITS = [
    ("who", "6 weeks", -1, (), (), "RV", "not yet", 1),
    ("who", "6 weeks", 0, (), (), "RV", "due", 1),
    ("who", "24 months", 0, (), (), "RV", "due", 1),
    ("who", "24 months", 1, (), (), "RV", "aged out", None),
    ("who", "9 months", -1, (), (), "Measles", "not yet", 1),
    ("who", "9 months", 0, (), (), "Measles", "due", 1),
    ("who", "10 years", 0, (), (), "Measles", "due", 1),
    ("who-measles-low-transmission", "9 months", 0, (), (), "Measles", "not yet", 1),
    ("who-measles-low-transmission", "12 months", 0, (), (), "Measles", "due", 1),
    ("who", "7 months", 0, (), ("outbreak-measles",), "Measles", "clinician decides", 0),
    ("who", "7 months", 0, (), (), "Measles", "not yet", 1),
    ("who-measles-dose-0", "6 months", 0, (), (), "Measles", "clinician decides", 0),
    ("who-measles-dose-0", "6 months", -1, (), (), "Measles", "not yet", 0),
    ("who-measles-dose-0", "9 months", 0, (), (), "Measles", "due", 1),
    ("who", "9 months", 0, (), (), "Rubella", "due", 1),
    ("who-rubella-low-incidence", "9 months", 0, (), (), "Rubella", "not yet", 1),
    ("who", "28 days", 0, (), (), "BCG", "due", 1),
    ("who", "29 days", 0, (), (), "BCG", "clinician decides", 1),
    ("who", "29 days", 0, (), ("tb-test-negative",), "BCG", "due", 1),
    ("who", "29 days", 0, (), ("tb-test-positive",), "BCG", "not recommended", None),
    ("who", "1 day", 0, (), ("hiv",), "BCG", "not recommended", None),
    ("who", "1 day", 0, (), ("hiv-treated-stable",), "BCG", "due", 1),
    ("who", "5 years", 0, (), (), "BCG", "clinician decides", 1),
    ("who", "6 years", 0, (), ("tb-test-negative",), "BCG", "due", 1),
    ("who", "6 years", 0, (), ("hiv",), "BCG", "not recommended", None),
    ("who-bcg-not-given", "1 day", 0, (), (), "BCG", "not recommended", None),
    ("who-polio-zero-dose", "6 days", 0, (), (), "OPV", "due", 0),
    ("who-polio-zero-dose", "7 days", 0, (), (), "OPV", "not yet", 1),
    ("who-polio-zero-dose", "6 weeks", 0, ((0, "178"),), (), "OPV", "due", 1),
    ("who", "3 days", 0, (), (), "OPV", "not yet", 1),
    ("who", "14 weeks", -1, (), (), "IPV", "not yet", 1),
    ("who", "14 weeks", 0, (), (), "IPV", "due", 1),
    ("who-polio-early-ipv", "6 weeks", 0, (), (), "IPV", "due", 1),
    ("who-polio-sequential", "16 weeks", 0, (), (), "OPV", "not recommended", None),
    ("who-hepb-birth-and-2", "14 weeks", 0, ((0, "08"), (42, "08")), (), "HepB", "due", 3),
    ("who", "10 weeks", 0, ((0, "08"), (42, "08")), (), "HepB", "due", 3),
    ("who", "12 months", 0, (), (), "Hib", "due", 1),
    ("who", "60 months", -1, (), (), "Hib", "due", 1),
    ("who", "60 months", 0, (), (), "Hib", "aged out", None),
    ("who", "10 weeks", -1, ((42, "48"),), (), "Hib", "not yet", 2),
    ("who", "10 weeks", 0, ((42, "48"),), (), "Hib", "due", 2),
    ("who-hib-2p1", "14 weeks", -1, ((42, "48"),), (), "Hib", "not yet", 2),
    ("who-hib-2p1", "14 weeks", 0, ((42, "48"),), (), "Hib", "due", 2),
    ("who-pcv-2p1", "9 months", -1, ((42, "216"), (98, "216")), (), "PCV", "not yet", 3),
    ("who-pcv-2p1", "9 months", 0, ((42, "216"), (98, "216")), (), "PCV", "due", 3),
    ("who", "24 months", 0, (), (), "PCV", "due", 1),
    ("who", "9 years", -1, (), (), "HPV", "not yet", 1),
    ("who", "15 years", -1, (), (), "HPV", "due", 1),
    ("who", "15 years", 0, (), (), "HPV", "clinician decides", 1),
    ("who-hpv-1-dose", "20 years", 0, (), (), "HPV", "due", 1),
    ("who-hpv-1-dose", "21 years", 0, (), (), "HPV", "clinician decides", 1),
    ("who", "9 months", 0, (), (), "YF", "clinician decides", 1),
    ("who-yellow-fever", "9 months", 0, (), (), "YF", "due", 1),
    ("who", "8 months", 0, (), (), "JE", "clinician decides", 1),
    ("who-je-live-attenuated", "8 months", -1, (), (), "JE", "not yet", 1),
    ("who-je-live-attenuated", "8 months", 0, (), (), "JE", "due", 1),
    ("who-je-recombinant", "8 months", 0, (), (), "JE", "not yet", 1),
    ("who-je-inactivated", "6 months", 0, (), (), "JE", "due", 1),
    ("who-mena", "9 months", 0, (), (), "MenA", "due", 1),
    ("who-mena-2-doses", "3 months", 0, (), (), "MenA", "due", 1),
    ("who-menc", "2 months", 0, (), (), "MenC", "due", 1),
    ("who-menacwy", "2 years", -1, (), (), "MenACWY", "not yet", 1),
    ("who-menacwy-d", "9 months", 0, (), (), "MenACWY", "due", 1),
    ("who-typhoid-conjugate", "6 months", 0, (), (), "Typhoid", "due", 1),
    ("who-typhoid-vi", "2 years", -1, (), (), "Typhoid", "not yet", 1),
    ("who-typhoid-vi", "5 years", -1, ((731, "101"),), (), "Typhoid", "not yet", 2),
    ("who-influenza", "6 months", 0, (), (), "Flu", "due", 1),
    ("who", "10 years", 0, (), (), "Dengue", "not recommended", None),
    ("who", "8 years", 0, ((2557 - 60, "20"),), (), "DTaP", "due", 2),
    ("who", "8 years", 0, (), (), "DTaP", "clinician decides", 1),
]


@pytest.mark.parametrize(
    ("edition", "age", "days", "doses", "conditions", "group", "status", "dose"), LIMITS
)
def test_a_limit_holds_on_both_sides(
    edition: str,
    age: str,
    days: int,
    doses: tuple[tuple[int, str], ...],
    conditions: tuple[str, ...],
    group: str,
    status: str,
    dose: int | None,
):
    given = [(BORN + timedelta(days=after), cvx) for after, cvx in doses]
    answer = ask(BORN, given, at(BORN, age, days), edition=edition, conditions=conditions)
    assert answer.groups[group].status == status, answer.groups[group]
    if dose is not None:
        assert answer.groups[group].next_dose == dose


@pytest.mark.parametrize(("sex", "status"), [("F", "due"), ("M", "clinician decides")])
def test_hpv_for_girls_and_by_national_rule_for_others(sex: str, status: str):
    two = ask(BORN, [], at(BORN, "10 years"), edition="who", sex=sex)
    assert two.groups["HPV"].status == status
    one = ask(BORN, [], at(BORN, "10 years"), edition="who-hpv-1-dose", sex=sex)
    assert one.groups["HPV"].status == "due"


@pytest.mark.parametrize(("days", "status"), [(27, "deferred"), (28, "due")])
@pytest.mark.parametrize("group", ["BCG", "RV", "Measles", "Rubella"])
def test_any_live_vaccine_holds_every_other_back_for_28_days(group: str, days: int, status: str):
    on = at(BORN, "9 months")
    answer = ask(
        BORN,
        [(on - timedelta(days=days), "111")],
        on,
        edition="who",
        conditions=["tb-test-negative"],
    )
    assert answer.groups[group].status == status
    if status == "deferred":
        assert answer.groups[group].until == on + timedelta(days=1)


def test_oral_polio_vaccine_holds_nothing_back_and_is_not_held_back():
    on = at(BORN, "9 months")
    answer = ask(BORN, [(on - timedelta(days=7), "178")], on, edition="who")
    assert answer.groups["Measles"].status == "due"
    newborn = at(BORN, "6 weeks")
    answer = ask(BORN, [(newborn - timedelta(days=3), "19")], newborn, edition="who")
    assert answer.groups["OPV"].status == "due"


def test_a_dose_given_too_near_to_a_live_vaccine_still_counts():
    on = at(BORN, "9 months")
    answer = ask(BORN, [(on - timedelta(days=10), "19"), (on, "05")], on, edition="who")
    assert verdicts(answer, "Measles") == ["valid"]


def test_no_overdue_day_is_told_and_nothing_becomes_overdue():
    answer = ask(BORN, [], at(BORN, "4 years"), edition="who")
    assert {forecast.overdue for forecast in answer.groups.values()} == {None}
    assert "overdue" not in {forecast.status for forecast in answer.groups.values()}


@pytest.mark.parametrize("known", [{"birth_weight_g": 1999}, {"gestation_weeks": 36}])
def test_the_birth_dose_of_a_small_newborn_does_not_count(known: dict[str, int]):
    doses = [(BORN, "08"), *((at(BORN, age), "08") for age in ("6 weeks", "10 weeks", "14 weeks"))]
    answer = ask(BORN, doses, at(BORN, "14 weeks"), edition="who", **known)
    assert verdicts(answer, "HepB") == ["not valid", "valid", "valid", "valid"]
    assert answer.groups["HepB"].status == "complete"
    before = ask(BORN, doses[:3], at(BORN, "14 weeks"), edition="who", **known)
    assert (before.groups["HepB"].status, before.groups["HepB"].next_dose) == ("due", 3)


@pytest.mark.parametrize(("known", "count"), [({"birth_weight_g": 2000}, 1), ({}, 1)])
def test_the_birth_dose_of_another_newborn_counts(known: dict[str, int], count: int):
    answer = ask(BORN, [(BORN, "08")], at(BORN, "6 weeks"), edition="who", **known)
    assert answer.groups["HepB"].valid_doses == count


def test_a_late_polio_start_takes_ipv_with_the_first_and_the_third_bopv():
    start = at(BORN, "8 months")
    doses = [(start, "178"), (start, "10"), (start + timedelta(days=28), "178")]
    on = start + timedelta(days=56)
    answer = ask(BORN, doses, on, edition="who")
    assert (answer.groups["OPV"].status, answer.groups["OPV"].next_dose) == ("due", 3)
    assert (answer.groups["IPV"].status, answer.groups["IPV"].next_dose) == ("due", 2)


@pytest.mark.parametrize(
    ("age", "third"), [("12 months", timedelta(days=28)), ("12 months 1 day", None)]
)
def test_a_dtp_series_started_after_one_year_waits_six_months_for_the_third(
    age: str, third: timedelta | None
):
    first = at(BORN, age)
    second = first + timedelta(days=28)
    answer = ask(BORN, [(first, "20"), (second, "20")], second, edition="who")
    expected = second + third if third else at(second, "6 months")
    assert answer.groups["DTaP"].due == expected


def test_td_started_from_seven_years_is_five_doses_with_growing_intervals():
    doses = [at(BORN, "8 years")]
    for wait in ("4 weeks", "6 months", "1 year", "1 year"):
        given = [(on, "113") for on in doses]
        forecast = ask(BORN, given, doses[-1], edition="who").groups["DTaP"]
        assert forecast.due == at(doses[-1], wait)
        doses.append(forecast.due)
    answer = ask(BORN, [(on, "113") for on in doses], doses[-1], edition="who")
    assert answer.groups["DTaP"].status == "complete"


def test_two_boosters_a_year_apart_after_a_late_dtp_start():
    first = at(BORN, "2 years")
    third = at(at(first, "1 month"), "6 months")
    doses = [(first, "20"), (at(first, "1 month"), "20"), (third, "20")]
    answer = ask(BORN, doses, third, edition="who")
    assert answer.groups["DTaP"].due == at(third, "1 year")
    boosters = [at(third, "1 year"), at(third, "2 years")]
    answer = ask(BORN, [*doses, *((on, "113") for on in boosters)], boosters[1], edition="who")
    assert answer.groups["DTaP"].status == "complete"


@pytest.mark.parametrize(
    ("conditions", "group", "status"),
    [
        (["pregnant"], "Measles", "contraindicated"),
        (["pregnant"], "Rubella", "contraindicated"),
        (["pregnant"], "BCG", "contraindicated"),
        (["intussusception"], "RV", "contraindicated"),
        (["immunocompromised"], "Measles", "contraindicated"),
        (["immunocompromised"], "YF", "contraindicated"),
        (["mild-illness"], "Measles", "due"),
    ],
)
def test_what_screening_closes_in_the_groups_of_who(conditions: list[str], group: str, status: str):
    on = at(BORN, "12 months")
    record = child(BORN, conditions=[*conditions, "tb-test-negative"])
    assert answer_for(record, "who-yellow-fever", on).groups[group].status == status
