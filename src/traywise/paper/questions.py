"""Screening questions short enough to be ticked on paper or read on a screen."""

from __future__ import annotations

from collections.abc import Sequence

from traywise.paper.columns import wrap
from traywise.paper.wording import plain
from traywise.tray.plan import OpenQuestion

FEW = 5  # answers that are still printed one by one
ALWAYS = ("no", "unknown")  # answers that the heading names for all questions


def tick_boxes(question: OpenQuestion) -> list[tuple[str, bool]]:
    """Answers to tick, each with whether a line to write on follows.

    Many answers become "no", "yes, which" and "unknown": a list of allergens is not ticked at
    the chair, and the record takes the written word.

    >>> q = OpenQuestion(key="q", text="Any?", groups=("RV",), answers=("no", *"abcde", "unknown"))
    >>> tick_boxes(q)
    [('no', False), ('yes, which', True), ('unknown', False)]
    """
    answers = question.answers
    if len(answers) <= FEW:
        return [(answer.replace("-", " "), False) for answer in answers]
    which = "yes, which" if "no" in answers else "which"
    return [
        *([("no", False)] if "no" in answers else []),
        (which, True),
        *([("unknown", False)] if "unknown" in answers else []),
    ]


def decides(question: OpenQuestion, asked: Sequence[OpenQuestion]) -> str:
    """The groups a question decides, as compared with all that the open questions decide.

    >>> some = [OpenQuestion(key="a", text="", groups=tuple("abcd"))]
    >>> decides(some[0], some), decides(OpenQuestion(key="b", text="", groups=tuple("bcd")), some)
    ('all', 'all but a')
    """
    everything = list(dict.fromkeys(group for one in asked for group in one.groups))
    left = [group for group in everything if group not in question.groups]
    if len(everything) > 2 and not left:
        return "all"
    if len(everything) > 3 and len(left) == 1:
        return f"all but {left[0]}"
    return ", ".join(question.groups)


def question_in_line(question: OpenQuestion, what: str, width: int) -> str:
    """Text, as many answers as its last line has room for, and what it decides.

    what   as ``decides`` says it
    width  columns of a line
    """
    private = " (in private)" if question.private else ""
    tail = f"→\u00a0{what}".replace(" ", "\u00a0") + private
    shortest = f"{plain(question.text)} {tail}"
    lines = len(wrap(shortest, width))
    for shown in _shown_answers(question):
        longer = f"{plain(question.text)} {shown} {tail}"
        if len(wrap(longer, width)) <= lines:
            return longer
    return shortest


def _shown_answers(question: OpenQuestion) -> list[str]:
    """Answers beside "no" and "unknown": all of them, then fewer; none where only "yes" is left."""
    other = [answer for answer in question.answers if answer not in ALWAYS]
    if other == ["yes"]:
        return []
    shown = [f"[{' / '.join(other)}]"] if len(question.answers) <= FEW else []
    most = min(len(other) - 1, FEW)
    return shown + [f"[{' / '.join(other[:n])} / …]" for n in range(most, 0, -1)]
