"""Which questions are open, what answers settle, and what screening puts into the answer."""

from __future__ import annotations

from datetime import date
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traywise.record.child import Child, Condition
from traywise.rulebook.conditions import anaphylaxis_key, conditions, implied_faults
from traywise.rulebook.vaccines import vaccines
from traywise.schedule.answer import Answer, GroupForecast
from traywise.screening import Question, Screening, apply, screen
from traywise.screening.question_rows import QuestionRow, question_faults, question_rows
from traywise.screening.rules import ScreeningRule, rule_faults, screening_rules

ON = date(2026, 3, 2)
GROUPS = ("HepB", "RV", "DTaP", "Hib", "PCV", "IPV", "Flu", "COVID", "MMR", "VAR", "HepA", "HPV")
BIRTHS = (date(2026, 3, 1), date(2025, 12, 20), date(2025, 2, 20), date(2022, 6, 1))
BIRTHS = (*BIRTHS, date(2019, 9, 1), date(2012, 3, 1))


def look(born: date, *groups: str, **more: Any) -> Screening:
    child = Child(id="invented", born=born, **more)
    return screen(child, ON, groups, tuple(vaccines().values()))


def asked(screening: Screening) -> dict[str, Question]:
    return {question.key: question for question in screening.questions}


# question, born, sex, group, asked: by age, sex and what is due
FOR_WHOM = [
    ("pregnant", date(2012, 3, 1), "F", "MMR", True),
    ("pregnant", date(2012, 3, 1), None, "MMR", True),  # unknown is asked
    ("pregnant", date(2012, 3, 1), "M", "MMR", False),
    ("pregnant", date(2016, 3, 3), "F", "MMR", False),  # 10 years tomorrow
    ("pregnant", date(2016, 3, 2), "F", "MMR", True),
    ("pregnant", date(2012, 3, 1), "F", "HepA", False),
    ("wheeze", date(2021, 3, 3), None, "Flu", True),  # FLU, C21 R: 2 to 4 years
    ("wheeze", date(2021, 3, 2), None, "Flu", False),
    ("wheeze", date(2024, 3, 2), None, "Flu", True),
    ("wheeze", date(2024, 3, 3), None, "Flu", False),
    ("intussusception", date(2025, 12, 20), None, "RV", True),
    ("intussusception", date(2025, 12, 20), None, "PCV", False),
    ("mother-hbsag", date(2026, 3, 1), None, "HepB", True),
    ("mother-hbsag", date(2026, 1, 1), None, "HepB", False),
    ("birth-weight-g", date(2026, 3, 1), None, "HepB", True),
    ("birth-weight-g", date(2026, 3, 1), None, "RV", False),
    ("hiv-cd4", date(2022, 3, 1), None, "MMR", False),  # only with HIV
    ("antibody-product", date(2022, 3, 1), None, "MMR", True),
    ("antibody-product", date(2022, 3, 1), None, "DTaP", False),
    ("flu-antiviral", date(2022, 3, 1), None, "Flu", True),
    ("flu-antiviral", date(2022, 3, 1), None, "MMR", False),
    ("steroid", date(2022, 3, 1), None, "VAR", True),
    ("steroid", date(2022, 3, 1), None, "IPV", False),
]


@pytest.mark.parametrize(("key", "born", "sex", "group", "expected"), FOR_WHOM)
def test_only_questions_that_matter(
    key: str, born: date, sex: str | None, group: str, expected: bool
) -> None:
    assert (key in asked(look(born, group, sex=sex))) is expected


def test_only_the_pregnancy_question_is_private() -> None:
    assert [row.key for row in question_rows().values() if row.private] == ["pregnant"]


def test_nothing_due_nothing_asked() -> None:
    assert look(date(2022, 3, 1)).questions == ()


def test_products_decide_what_is_asked() -> None:
    child = Child(id="invented", born=date(2022, 3, 1))
    injected = tuple(v for v in vaccines().values() if "NAS" not in v.routes)
    assert "flu-antiviral" not in asked(screen(child, ON, ("Flu",), injected))


def test_known_condition_is_not_asked_again() -> None:
    known = look(date(2012, 3, 1), "MMR", sex="F", conditions=(Condition(key="pregnant"),))
    assert "pregnant" not in asked(known)


def test_closed_group_needs_no_further_reason() -> None:
    closed = look(date(2022, 3, 1), "MMR", conditions=(Condition(key="anaphylaxis-mmr"),))
    assert closed.questions == ()


@pytest.mark.parametrize("value", ["unknown", "Unknown", ""])
def test_unknown_stays_open_and_says_what_it_would_change(value: str) -> None:
    open_now = asked(look(date(2025, 12, 20), "RV", answers={"intussusception": value}))
    assert open_now["intussusception"].would_change


def test_yes_to_one_of_several_asks_for_details() -> None:
    screening = look(date(2022, 3, 1), "MMR", answers={"reaction-to-vaccine": "yes"})
    assert "reaction-to-vaccine" in asked(screening)
    assert screening.findings[0].key == "reaction-vaccine-unknown"


def test_several_answers_at_once() -> None:
    answers = {"reaction-to-vaccine": "MMR, hepb"}
    screening = look(date(2022, 3, 1), "MMR", "HepB", "IPV", answers=answers)
    assert [screening.blocks_group(g) for g in ("MMR", "HepB", "IPV")] == [True, True, False]


def test_answered_antibody_product_with_its_day() -> None:
    answers: dict[str, Any] = {"antibody-product": "hbig"}
    without_day = look(date(2022, 3, 1), "MMR", answers=answers)
    assert "antibody-product-on" in asked(without_day)
    assert without_day.blocks_group("MMR")
    answers["antibody-product-on"] = "2026-01-20"
    dated = look(date(2022, 3, 1), "MMR", answers=answers)
    assert dated.deferred_until("MMR") == date(2026, 4, 20)  # 3 months; GBP3 R
    assert not {"antibody-product", "antibody-product-on"} & set(asked(dated))


def test_answer_not_understood_is_kept_open_and_named() -> None:
    screening = look(date(2022, 3, 1), "MMR", answers={"ill-today": "purple", "tb-test": 7})
    assert {fault.code for fault in screening.faults} == {"screening.W003"}
    assert {"ill-today", "tb-test"} <= set(asked(screening))


def test_unknown_condition_key_is_named() -> None:
    screening = look(date(2022, 3, 1), "MMR", conditions=(Condition(key="something else"),))
    assert [fault.code for fault in screening.faults] == ["screening.W001"]


def definite(question: Question, row: QuestionRow, pick: int) -> str | float:
    """Some definite answer: a day, a number, or one of the choices."""
    if row.kind == "date":
        return ("2026-02-01", "no")[pick % 2]
    if row.kind == "number":
        return (2500, 30)[pick % 2]
    return question.answers[pick % (len(question.answers) - 1)]


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(BIRTHS), st.integers(0, 30))
def test_answering_everything_leaves_nothing_open(born: date, pick: int) -> None:
    answers: dict[str, Any] = {}
    for _ in range(5):
        questions = look(born, *GROUPS, answers=answers).questions
        if not questions:
            break
        for question in questions:
            assert question.key not in answers
            answers[question.key] = definite(question, question_rows()[question.key], pick)
    assert look(born, *GROUPS, answers=answers).questions == ()


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(BIRTHS),
    st.lists(st.sampled_from(sorted(conditions())), max_size=3),
    st.sampled_from(sorted(question_rows())),
    st.sampled_from(("no", "unknown", "nothing of the kind")),
)
def test_irrelevant_answer_changes_no_finding(
    born: date, keys: list[str], question: str, value: str
) -> None:
    held = tuple(Condition(key=key) for key in keys)
    if question in ("mother-hbsag", "hiv-cd4"):  # their "no" is a result
        value = "unknown"
    before = look(born, *GROUPS, conditions=held)
    after = look(born, *GROUPS, conditions=held, answers={question: value, "shoe-size": 31})
    assert after.findings == before.findings
    assert all(finding.source for finding in after.findings)


@settings(max_examples=20, deadline=None)
@given(
    st.sampled_from(BIRTHS),
    st.permutations(("asthma", "hiv", "egg-allergy", "salicylate", "seizure-history")),
)
def test_order_of_conditions_changes_nothing(born: date, keys: list[str]) -> None:
    one = look(born, *GROUPS, conditions=tuple(Condition(key=key) for key in keys))
    two = look(born, *GROUPS, conditions=tuple(Condition(key=key) for key in sorted(keys)))
    assert one.blocked_vaccines() == two.blocked_vaccines()
    assert {f.key for f in one.findings} == {f.key for f in two.findings}


def forecast(status: str, due: date | None) -> Answer:
    group = GroupForecast(status=status, next_dose=1, earliest=due, due=due, why="by age")
    return Answer(id="invented", assess_on=ON, edition="us-2025", groups={"MMR": group})


def applied(status: str, due: date | None, *keys: Condition) -> GroupForecast:
    screening = look(date(2022, 3, 1), "MMR", conditions=keys)
    return apply(forecast(status, due), screening).groups["MMR"]


def test_contraindicated_group_has_no_dates() -> None:
    after = applied("due", ON, Condition(key="anaphylaxis-mmr"))
    assert (after.status, after.due, after.earliest) == ("contraindicated", None, None)
    assert "Anaphylaxis" in after.why
    assert after.source


def test_deferred_group_moves_its_due_date() -> None:
    steroid = Condition(key="steroid-high-dose", until=date(2026, 2, 20))
    after = applied("overdue", date(2025, 1, 1), steroid)
    assert (after.status, after.until, after.due) == (
        "deferred",
        date(2026, 3, 20),
        date(2026, 3, 20),
    )


def test_deferral_over_before_the_dose_is_due_changes_nothing() -> None:
    steroid = Condition(key="steroid-high-dose", until=date(2026, 2, 20))
    assert applied("not yet", date(2026, 3, 20), steroid).status == "not yet"
    assert applied("not yet", date(2026, 3, 19), steroid).status == "deferred"


def test_illness_today_defers_what_is_due_today_only() -> None:
    ill = Condition(key="acute-illness")
    assert applied("due", ON, ill).status == "deferred"
    assert applied("due", ON, ill).until is None
    assert applied("not yet", date(2026, 8, 1), ill).status == "not yet"


@pytest.mark.parametrize("status", ["complete", "immune", "aged out", "not recommended"])
def test_finished_group_is_left_alone(status: str) -> None:
    assert applied(status, None, Condition(key="anaphylaxis-mmr")).status == status


def test_precaution_for_the_clinician_leaves_the_status() -> None:
    assert applied("due", ON, Condition(key="thrombocytopenia-history")).status == "due"


def test_anaphylaxis_key_of_each_group() -> None:
    assert all(anaphylaxis_key(group) in conditions() for group in GROUPS)


def test_every_condition_of_the_questions_and_rules_is_known() -> None:
    assert rule_faults(screening_rules()) == []
    assert question_faults(question_rows().values()) == []
    assert implied_faults(conditions().values()) == []


def test_bad_rows_are_named() -> None:
    rule: ScreeningRule = screening_rules()[0]
    bad = msgspec.structs.replace(rule, when=("no-such-key",), by="", wait_from="end")
    codes = {fault.code for fault in rule_faults([bad])}
    assert codes == {"rulebook.E031", "rulebook.E032", "rulebook.E033"}
    row = next(iter(question_rows().values()))
    wrong = msgspec.structs.replace(row, sets={"maybe": ("no-such-key",)}, after="nothing")
    codes = {fault.code for fault in question_faults([wrong])}
    assert codes == {"rulebook.E034", "rulebook.E035", "rulebook.E036"}
    lost = msgspec.structs.replace(conditions()["hiv"], implies=("no-such-key",))
    assert [fault.code for fault in implied_faults([lost])] == ["rulebook.E030"]
