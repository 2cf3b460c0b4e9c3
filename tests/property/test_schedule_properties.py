"""What must hold of the schedule for every child, one test per sentence.

Stated exceptions to "the day before is not valid": what an edition accepts of a dose
already given although it would never be planned so (rows with ``counts_from_…`` or
``judge_only``), the 4 grace days aside.
"""

from __future__ import annotations

from datetime import date, timedelta

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.schedule_words import CVX, ask, child, verdicts

from traywise.record.child import Child, Condition, CvxCode, DoseGiven, ProductReceived
from traywise.schedule.answer import Answer
from traywise.schedule.assess import assess
from traywise.schedule.compile import compiled

FAST = settings(max_examples=150, deadline=None)
PRODUCTS = [
    *("01", "02", "03", "08", "10", "20", "21", "43", "48", "49", "62", "83", "88", "94"),
    *("104", "107", "110", "111", "115", "113", "116", "119", "120", "130", "133", "136"),
    *("140", "146", "162", "163", "165", "189", "203", "215", "216", "307", "312", "316", "33"),
]
DATED = [
    *("haematopoietic-transplant", "chemotherapy", "radiotherapy", "pregnant"),
    *("wound-clean-minor", "wound-other"),
]
RISKS = ["asplenia", "hiv", "immunocompromised", "diabetes", "mother-hbsag-positive"]
BIRTHS = st.dates(date(2004, 1, 1), date(2024, 12, 31))


@st.composite
def children(draw: st.DrawFn, most_doses: int = 9) -> tuple[Child, date]:
    """A child of 0 to 18 years with any doses, and a day to answer for after them."""
    born = draw(BIRTHS)
    on = born + timedelta(days=draw(st.integers(0, 18 * 365)))
    span = (on - born).days
    doses = draw(
        st.lists(st.tuples(st.integers(0, span), st.sampled_from(PRODUCTS)), max_size=most_doses)
    )
    risks = draw(st.lists(st.sampled_from(RISKS), max_size=2, unique=True))
    dated = draw(st.lists(st.sampled_from(DATED), max_size=1))
    first = born + timedelta(days=draw(st.integers(0, span)))
    # What ends may take a risk with it, and with the risk a dose of another group; not so these.
    ends = draw(st.none() | st.integers(0, 700).map(lambda days: first + timedelta(days=days)))
    until = ends if dated in (["pregnant"], ["haematopoietic-transplant"]) else None
    products = draw(st.lists(st.sampled_from(["hbig", "igiv-kawasaki-2g-kg"]), max_size=1))
    record = Child(
        id="any",
        born=born,
        sex=draw(st.sampled_from(["F", "M", None])),
        birth_weight_g=draw(st.sampled_from([None, 1800, 3300])),
        doses=tuple(DoseGiven(on=born + timedelta(days=at), cvx=CvxCode(cvx)) for at, cvx in doses),
        conditions=(
            *(Condition(key=key) for key in risks),
            *(Condition(key=key, since=first, until=until) for key in dated),
        ),
        products=tuple(
            ProductReceived(on=born + timedelta(days=span // 2), kind=kind) for kind in products
        ),
    )
    return record, on


def with_dose(record: Child, on: date, cvx: str) -> Child:
    dose = DoseGiven(on=on, cvx=CvxCode(cvx))
    return msgspec.structs.replace(record, doses=(*record.doses, dose))


def essence(answer: Answer) -> object:
    """Dates, statuses and verdicts, without words."""
    return (
        {
            key: (one.status, one.next_dose, one.earliest, one.due, one.overdue, one.latest)
            for key, one in answer.groups.items()
        },
        sorted(
            (dose.on, dose.cvx, group, verdict.status)
            for dose in answer.doses
            for group, verdict in dose.groups.items()
        ),
    )


@FAST
@given(children())
def test_earliest_is_not_after_due_and_due_not_after_overdue(case: tuple[Child, date]) -> None:
    record, on = case
    for one in assess(record, "us-2025", on).groups.values():
        if one.due is not None:
            assert one.earliest is not None
            assert one.overdue is not None
            assert record.born <= one.earliest <= one.due <= one.overdue
            assert one.latest is None or one.due <= one.latest


@FAST
@given(children(), st.randoms())
def test_the_order_of_entries_changes_nothing(case: tuple[Child, date], random: object) -> None:
    record, on = case
    doses = list(record.doses)
    random.shuffle(doses)  # type: ignore[attr-defined]
    shuffled = msgspec.structs.replace(record, doses=tuple(doses))
    assert essence(assess(record, "us-2025", on)) == essence(assess(shuffled, "us-2025", on))


@FAST
@given(children(), st.sampled_from(PRODUCTS), st.integers(1, 900))
def test_a_valid_dose_stays_valid_when_a_later_one_is_added(
    case: tuple[Child, date], cvx: str, later: int
) -> None:
    record, on = case
    after = on + timedelta(days=later)
    before = assess(record, "us-2025", on)
    now = assess(with_dose(record, after, cvx), "us-2025", after)
    for old, new in zip(before.doses, now.doses[:-1], strict=True):
        assert {key: v.status for key, v in old.groups.items()} == {
            key: v.status for key, v in new.groups.items()
        }


TIED_TO_THE_CALENDAR = {"Flu", "COVID", "RSV"}


def moved(value: date | None, days: int) -> date | None:
    return None if value is None else value + timedelta(days=days)


@FAST
@given(children())
def test_moving_every_date_by_28_years_moves_every_answer(case: tuple[Child, date]) -> None:
    """28 years are 10 227 days between 1901 and 2099; rows of a season or a date stay put."""
    record, on = case
    shift = 10_227
    # OPV counts by the date it was given (CDC notes 2025, polio); leave it out here.
    record = msgspec.structs.replace(
        record, doses=tuple(dose for dose in record.doses if dose.cvx != "02")
    )
    there = msgspec.structs.replace(
        record,
        born=record.born + timedelta(days=shift),
        doses=tuple(
            msgspec.structs.replace(dose, on=dose.on + timedelta(days=shift))
            for dose in record.doses
        ),
        products=tuple(
            msgspec.structs.replace(item, on=item.on + timedelta(days=shift))
            for item in record.products
        ),
        conditions=tuple(
            msgspec.structs.replace(
                one, since=moved(one.since, shift), until=moved(one.until, shift)
            )
            for one in record.conditions
        ),
    )
    here = assess(record, "us-2025", on).groups
    then = assess(there, "us-2025", on + timedelta(days=shift)).groups
    for key, one in here.items():
        if key not in TIED_TO_THE_CALENDAR:
            assert (one.status, moved(one.due, shift), moved(one.earliest, shift)) == (
                then[key].status,
                then[key].due,
                then[key].earliest,
            )


SINGLE = {key: cvx for key, cvx in CVX.items() if key != "MenB"}


@settings(max_examples=300, deadline=None)
@given(children(most_doses=6), st.sampled_from(sorted(SINGLE)))
def test_a_dose_on_the_earliest_day_is_valid(case: tuple[Child, date], group: str) -> None:
    record, on = case
    one = assess(record, "us-2025", on).groups[group]
    if one.earliest is None or one.row in extra_rows():
        return
    cvx = product_for(group, one.row, record)
    day = max(one.earliest, on + timedelta(days=1))
    given = {dose.on for dose in record.doses}
    # A live dose given today holds for today only: a live dose tomorrow would come too near it.
    if day in given or on in given or (one.latest and day > one.latest):
        return
    # Judged from the same history at the earliest day; later days are never worse.
    verdict = assess(with_dose(record, day, cvx), "us-2025", day).doses[-1].groups[group]
    if day > one.earliest and verdict.row == "Hib-around-chemotherapy":
        return  # the one rule that begins with a birthday: today counts, tomorrow does not
    assert verdict.status == "valid", verdict


@settings(max_examples=300, deadline=None)
@given(children(most_doses=6), st.sampled_from(sorted(SINGLE)), st.integers(5, 60))
def test_a_dose_before_the_earliest_day_and_its_grace_is_not_valid(
    case: tuple[Child, date], group: str, early: int
) -> None:
    record, on = case
    one = assess(record, "us-2025", on).groups[group]
    if one.earliest is None or one.row in extra_rows() or group in lenient_groups():
        return
    day = one.earliest - timedelta(days=early)
    if day <= on:
        return
    judged = assess(with_dose(record, day, product_for(group, one.row, record)), "us-2025", day)
    assert judged.doses[-1].groups[group].status != "valid"


def extra_rows() -> set[str]:
    return {row.key for _, row in compiled("us-2025").row_of if row.kind == "extra dose"}


def lenient_groups() -> set[str]:
    """Groups in which some row accepts a dose given that it would not plan.

    Rows that count HepA-HepB alone are left out: the dose tried here is never that product.
    """
    return {
        group
        for group, row in compiled("us-2025").row_of
        if (row.judge_only or row.counts_from_interval or row.counts_from_age)
        and row.counts != ("HepA-HepB",)
    }


def product_for(group: str, row: str, record: Child) -> str:
    """A product that the row may be given as."""
    if group == "DTaP" and row.startswith("Tdap"):
        return "115"
    if row == "HepB-2-adult-formulation":
        # earliest is then the day for the three-dose series
        return "08"
    if row == "RV-2-of-RV1":
        return "119"
    if group == "MenACWY":
        # MenACWY-TT only from 2 years; MenACWY-CRM at every age
        return "136"
    return CVX[group]


def test_lenient_groups_are_the_stated_exceptions() -> None:
    assert lenient_groups() == {
        *("DTaP", "VAR", "HPV", "Hib", "PCV", "MenB", "PPSV", "COVID", "Dengue", "HepA")
    }


PUBLISHED_DOSES = {
    # CDC schedule 2025, Table 1; RV as RV5, Hib as PRP-T, two HPV doses from 11 years.
    "HepB": 3,
    "RV": 3,
    "Hib": 4,
    "PCV": 4,
    "IPV": 4,
    "MMR": 2,
    "VAR": 2,
    "HepA": 2,
    "HPV": 2,
    "MenACWY": 2,
    "DTaP": 6,
}


@pytest.mark.parametrize("born", [date(2004, 2, 29), date(2005, 8, 31), date(2006, 12, 31)])
@pytest.mark.parametrize(("group", "doses"), sorted(PUBLISHED_DOSES.items()))
def test_every_due_dose_on_its_due_date_completes_the_published_series(
    born: date, group: str, doses: int
) -> None:
    given_doses: list[tuple[date, str]] = []
    on = born
    for _ in range(doses + 2):
        answer = ask(born, given_doses, on)
        one = answer.groups[group]
        if one.due is None:
            break
        on = one.due
        row = ask(born, given_doses, on).groups[group].row
        given_doses.append((on, product_for(group, row, child(born))))
    answer = ask(born, given_doses, on)
    assert verdicts(answer, group) == ["valid"] * doses
    assert answer.groups[group].status == "complete"
