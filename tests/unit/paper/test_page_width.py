"""Text in the width of the page: nothing wider, nothing lost. The children are invented."""

from __future__ import annotations

import io
import os
import sys

import pytest
from tests.unit.paper import invented
from tests.unit.paper.test_terminal import CASES, ON

from traywise.cli.output import screen_width
from traywise.paper.columns import fits, table, width_of
from traywise.paper.day_text import board_text
from traywise.paper.terminal import forecast_text, tray_text

WIDTHS = (60, 80, 100, 120)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize(("child", "answer", "tray"), CASES)
def test_no_line_is_wider_than_the_page_and_no_word_is_lost(child, answer, tray, width):
    texts = [tray_text(child, answer, tray, ON, width=width)]
    texts += [forecast_text(child, answer, width=width), board_text(invented.BOARD, width=width)]
    for text in texts:
        assert max(width_of(line) for line in text.splitlines()) <= width
        assert "\u00a0" not in text
    for place in tray.tray:
        assert f"lot {place.lot or 'not chosen'}" in texts[0]
    for forecast in answer.groups.values():
        for day in (forecast.earliest, forecast.due, forecast.overdue, forecast.latest):
            assert day is None or day.isoformat() in texts[1]


def test_a_wider_page_takes_fewer_lines():
    child, answer, tray = CASES[0]
    lines = [len(tray_text(child, answer, tray, ON, width=w).splitlines()) for w in WIDTHS]
    assert lines == sorted(lines, reverse=True)
    assert lines[0] > lines[-1]


ROWS = [("2", "Fridge A", "DTaP-HepB-IPV", "2026-12-31"), ("11", "Freezer C", "VAR", "")]


def test_columns_that_do_not_fit_are_run_together_with_their_cells_whole():
    assert fits(ROWS, width=41)
    assert table(ROWS, width=41)[0] == "2   Fridge A   DTaP-HepB-IPV  2026-12-31"
    assert not fits(ROWS, width=39)
    assert table(ROWS, width=30) == [
        "2  Fridge A  DTaP-HepB-IPV",
        "   2026-12-31",
        "11  Freezer C  VAR",
    ]


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("columns", "width"),
    [(20, 60), (59, 60), (60, 60), (61, 61), (80, 80), (119, 119), (120, 120), (121, 120)],
)
def test_a_terminal_is_followed_between_60_and_120_columns(monkeypatch, columns, width):
    monkeypatch.setattr(sys, "stdout", Terminal())
    monkeypatch.setenv("COLUMNS", str(columns))
    assert screen_width() == width


@pytest.mark.parametrize("stream", [io.StringIO(), None])
def test_a_file_or_another_program_gets_100_columns(monkeypatch, stream):
    monkeypatch.setattr(sys, "stdout", stream)
    monkeypatch.setenv("COLUMNS", "60")
    assert screen_width() == 100


def test_a_terminal_that_does_not_know_its_width_gets_100(monkeypatch):
    def unknown(*_: object) -> os.terminal_size:
        raise OSError

    monkeypatch.setattr(sys, "stdout", Terminal())
    monkeypatch.delenv("COLUMNS", raising=False)
    monkeypatch.setattr(os, "get_terminal_size", unknown)
    assert screen_width() == 100
