"""Text for the terminal: at most 100 columns, complete, safe, light to load."""

from __future__ import annotations

import re
import subprocess
import sys
from datetime import date

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.paper import invented

from traywise.paper.columns import WIDTH, width_of, wrap
from traywise.paper.day_text import board_text
from traywise.paper.terminal import forecast_text, tray_text
from traywise.record.child import Child
from traywise.schedule.answer import Answer, DoseJudged, DoseVerdict, GroupForecast
from traywise.tray.plan import Tray

ON = invented.ON
CASES = [
    (invented.ODILE, invented.ODILE_ANSWER, invented.ODILE_TRAY),
    (invented.TEEN, invented.answer_for(invented.TEEN), invented.TEEN_TRAY),
    (invented.NEWBORN, invented.answer_for(invented.NEWBORN), invented.NEWBORN_TRAY),
    (invented.CATCH_UP, invented.answer_for(invented.CATCH_UP), invented.CATCH_UP_TRAY),
    (invented.NOTHING, invented.NOTHING_ANSWER, invented.NOTHING_TRAY),
]


def one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(("child", "answer", "tray"), CASES)
def test_no_line_is_wider_than_100_columns(child: Child, answer: Answer, tray: Tray) -> None:
    for text in (tray_text(child, answer, tray, ON), forecast_text(child, answer)):
        assert max(width_of(line) for line in text.splitlines()) <= WIDTH
        assert text == "\n".join(line.rstrip() for line in text.splitlines()) + "\n"


def test_the_tray_in_text_says_what_the_sheet_says() -> None:
    text = one_line(tray_text(invented.ODILE, invented.ODILE_ANSWER, invented.ODILE_TRAY, ON))
    for words in (
        "Tray for Odile Fenwright",
        "schedule us-2025",
        "▲ AFTER SCREENING",
        "Has she ever had a blocked or telescoped bowel? → RV",
        "[2] DTaP-HepB-IPV (dose 2 of DTaP, HepB, IPV) · 0.5 mL",
        "right thigh, upper, outer middle third, into muscle (IM), at 90°",
        "lot QS4211",
        "23 G × 25 mm (1 in), deep blue hub",
        "▲ use within 24 h of mixing",
        "3 × needle 23 G × 25 mm",
        "◇ Flu, wait until 2027-01-12: Under 6 months.",
        "Would serve: nirsevimab 100 mg.",
        "◇ 2027-07-12: MMR dose 1",
        "Edition: Child and adolescent immunization schedule",
        "published 2025-01 (us-2025)",
        "Decision support",
    ):
        assert words in text, words


def test_the_bar_is_one_column_a_millimetre() -> None:
    text = tray_text(invented.ODILE, invented.ODILE_ANSWER, invented.ODILE_TRAY, ON)
    bars = re.findall("├─*▶ 23 G × 25 mm", text)
    assert bars == ["├" + "─" * 25 + "▶ 23 G × 25 mm"] * 3


def test_gaps_keep_the_tray_from_reading_ready() -> None:
    text = tray_text(*CASES[1], ON)
    assert "NOT COMPLETE" in text
    assert "not at hand:" in text
    assert "READY" not in text


def test_the_forecast_shows_verdicts_dates_and_reasons() -> None:
    answer = Answer(
        id="x",
        assess_on=ON,
        edition="us-2025",
        doses=(
            DoseJudged(
                on=date(2026, 9, 1),
                cvx="03",
                groups={
                    "MMR": DoseVerdict(
                        status="not valid", reason="before 12 months", row="r", source="from memory"
                    )
                },
            ),
            DoseJudged(on=date(2026, 9, 2), cvx="zz", groups={}),
        ),
        groups={
            "MMR": GroupForecast(
                status="deferred",
                next_dose=1,
                earliest=date(2027, 7, 12),
                due=date(2027, 7, 12),
                until=date(2027, 8, 1),
                why="28 days after another live vaccine",
                unconfirmed=True,
            )
        },
    )
    text = one_line(forecast_text(invented.ODILE, answer))
    assert "MMR not valid: before 12 months" in text
    assert "CVX zz, unknown code counts for no group" in text
    assert "◇ MMR 1 wait until 2027-08-01 2027-07-12 2027-07-12 – –" in text
    assert "28 days after another live vaccine (from memory)" in text


def test_the_board_in_text() -> None:
    text = board_text(invented.BOARD)
    assert max(width_of(line) for line in text.splitlines()) <= WIDTH
    for words in ("5 children, 16 doses", "● given 09:22", "RV1 by mouth", "PK7718", "■ Fridge B"):
        assert words in text


def test_control_characters_never_reach_the_terminal() -> None:
    child = msgspec.structs.replace(invented.ODILE, name="A\x1b]0;x\x07\u202eB\u2028\x9b2J")
    text = tray_text(child, invented.ODILE_ANSWER, invented.ODILE_TRAY, ON)
    assert not set(text) & set("\x1b\x07\u202e\u2028\x9b")


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=120), st.integers(12, 40))
def test_wrapping_keeps_every_letter_and_the_width(text: str, width: int) -> None:
    lines = wrap(text, width)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(width_of(line) <= width for line in lines)


@settings(max_examples=30, deadline=None)
@given(st.text(max_size=150), st.text(max_size=150))
def test_any_name_keeps_the_width(name: str, product: str) -> None:
    child = msgspec.structs.replace(invented.ODILE, name=name)
    first = msgspec.structs.replace(invented.ODILE_TRAY.tray[1], name=product, lot=product[:40])
    tray = msgspec.structs.replace(invented.ODILE_TRAY, tray=(first,))
    text = tray_text(child, invented.ODILE_ANSWER, tray, ON)
    assert max(width_of(line) for line in text.split("\n")) <= WIDTH


def test_the_terminal_loads_neither_printer_nor_code_reader() -> None:
    script = (
        "import sys, traywise.paper, traywise.paper.terminal as t;"
        "print([m for m in ('typst','zxingcpp','django','numpy') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
