"""Questions as tick boxes and as lines."""

from __future__ import annotations

import pytest

from traywise.paper.columns import wrap
from traywise.paper.questions import decides, question_in_line, tick_boxes
from traywise.tray.plan import OpenQuestion


def asked(*answers: str, groups: tuple[str, ...] = ("RV",), text: str = "Ill?") -> OpenQuestion:
    return OpenQuestion(key="q", text=text, groups=groups, answers=answers)


@pytest.mark.parametrize(
    ("answers", "boxes"),
    [
        (("yes", "no", "unknown"), ["yes", "no", "unknown"]),
        # Five answers are still printed, six are not.
        (("no", "b", "c", "d", "unknown"), ["no", "b", "c", "d", "unknown"]),
        (("no", "b", "c", "d", "e", "unknown"), ["no", "yes, which…", "unknown"]),
        (("a", "b", "c", "d", "e", "f"), ["which…"]),
        (("no", "low-dose", "unknown"), ["no", "low dose", "unknown"]),
    ],
)
def test_tick_boxes(answers: tuple[str, ...], boxes: list[str]) -> None:
    found = tick_boxes(asked(*answers))
    assert [answer + ("…" if write else "") for answer, write in found] == boxes


def test_a_line_shows_as_many_answers_as_it_has_room_for() -> None:
    question = asked("no", *[f"answer-{n}" for n in range(20)], "unknown")
    for width in (30, 60, 90):
        line = question_in_line(question, "RV", width)
        assert len(wrap(line, width)) == 1
        assert line.startswith("Ill? ")
        assert line.endswith("→\u00a0RV")
    assert "[answer-0 / …]" in question_in_line(question, "RV", 30)
    assert "answer-4 / …]" in question_in_line(question, "RV", 90)
    assert "answer-5" not in question_in_line(question, "RV", 300), "at most the first few"


def test_yes_no_and_unknown_are_told_by_the_heading() -> None:
    assert question_in_line(asked("no", "yes", "unknown"), "RV", 90) == "Ill? →\u00a0RV"
    assert "[yes / stable]" in question_in_line(asked("no", "yes", "stable", "unknown"), "RV", 90)


def test_a_private_question_says_so() -> None:
    question = OpenQuestion(key="q", text="Pregnant?", groups=("MMR",), private=True)
    assert question_in_line(question, "MMR", 90).endswith("(in private)")


@pytest.mark.parametrize(
    ("groups", "words"),
    [
        (("RV", "DTaP", "Hib", "PCV"), "all"),
        (("DTaP", "Hib", "PCV"), "all but RV"),
        (("Hib", "PCV"), "Hib, PCV"),
    ],
)
def test_what_a_question_decides(groups: tuple[str, ...], words: str) -> None:
    questions = [asked(groups=("RV", "DTaP")), asked(groups=("Hib", "PCV"))]
    assert decides(asked(groups=groups), questions) == words


def test_of_one_group_the_name_is_told() -> None:
    assert decides(asked(), [asked()]) == "RV"
