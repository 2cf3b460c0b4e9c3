"""Text in columns for a terminal: width as the screen shows it, wrapping, alignment."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from functools import cache

import msgspec

WIDTH = 100
NARROWEST, WIDEST = 60, 120


_LEAST_ROOM = 14  # columns in which a last column may wrap
_NO_BREAK = "\u00a0"


def width_of(text: str) -> int:
    """Columns that a text takes: wide letters two, combining marks none.

    >>> width_of("Anna"), width_of("王小明"), width_of("e\\u0301")
    (4, 6, 1)
    """
    if text.isascii():
        return len(text)
    return sum(_width(character) for character in text)


@cache
def _width(character: str) -> int:
    if unicodedata.combining(character) or unicodedata.category(character) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in ("W", "F") else 1


def wrap(text: str, width: int) -> list[str]:
    """Lines of at most ``width`` columns; a word longer than that is cut.

    Only blanks part words; what must stay together is joined by no-break spaces (U+00A0).

    >>> wrap("straight in, quick", 11)
    ['straight', 'in, quick']
    """
    lines: list[str] = []
    line, used = "", 0
    for word in filter(None, text.split(" ")):
        for piece in _pieces(word, width):
            wide = width_of(piece)
            if line and used + 1 + wide <= width:
                line, used = f"{line} {piece}", used + 1 + wide
            else:
                lines += [line] if line else []
                line, used = piece, wide
    return [*lines, line] if line else lines or [""]


def _pieces(word: str, width: int) -> Iterable[str]:
    if width_of(word) <= width:
        yield word
        return
    piece = ""
    for character in word:
        if piece and width_of(piece) + _width(character) > width:
            yield piece
            piece = ""
        piece += character
    yield piece


def pad(text: str, width: int) -> str:
    """The text filled with blanks to ``width`` columns."""
    return text + " " * max(0, width - width_of(text))


def hanging(lead: str, text: str, *, width: int = WIDTH) -> list[str]:
    """``lead`` once, the text wrapped beside it.

    >>> hanging("  why  ", "due since 2026-11-12", width=20)
    ['  why  due since', '       2026-11-12']
    """
    room = max(12, width - width_of(lead))
    first, *rest = wrap(text, room)
    return [(lead + first).rstrip(), *(" " * width_of(lead) + line for line in rest)]


def table(rows: Sequence[Sequence[str]], *, indent: int = 0, width: int = WIDTH) -> list[str]:
    """Rows in aligned columns, two blanks apart; the last column wraps.

    Where that leaves the last column no room, each row is run together and wrapped.

    >>> table([("group", "due"), ("MMR", "2027-07-12")])
    ['group  due', 'MMR    2027-07-12']
    """
    if not rows:
        return []
    if not fits(rows, indent=indent, width=width):
        return _stacked(rows, indent, width)
    lines = []
    widths = _widths(rows)[:-1]
    for row in rows:
        cells = [pad(cell, w) for cell, w in zip(row, widths, strict=False)]
        lead = " " * indent + "".join(cell + "  " for cell in cells)
        lines += hanging(lead, row[-1], width=width)
    return [line.rstrip() for line in lines]


def fits(rows: Sequence[Sequence[str]], *, indent: int = 0, width: int = WIDTH) -> bool:
    """Whether aligned columns leave the last one room for what it holds, or to be wrapped in.

    >>> fits([("group", "2027-07-12")], width=17), fits([("group", "2027-07-12")], width=16)
    (True, False)
    """
    *widths, last = _widths(rows)
    return indent + sum(widths) + 2 * len(widths) + min(last, _LEAST_ROOM) <= width


def _widths(rows: Sequence[Sequence[str]]) -> list[int]:
    return [max(width_of(row[i]) for row in rows) for i in range(len(rows[0]))]


def _stacked(rows: Sequence[Sequence[str]], indent: int, width: int) -> list[str]:
    """Each row run together; cells stay whole where they can, only between two a line is broken."""
    lines = []
    for row in rows:
        cells = [cell.replace(" ", _NO_BREAK) for cell in row if cell]
        first, *rest = wrap(f" {_NO_BREAK}".join(cells), width - indent - 2)
        lines += [" " * indent + first, *(" " * (indent + 2) + line for line in rest)]
    return [line.replace(_NO_BREAK, " ").rstrip() for line in lines]


class Page(msgspec.Struct, frozen=True):
    """The functions above for a page of one width, in columns."""

    width: int = WIDTH

    @property
    def rule(self) -> str:
        """A line across the page."""
        return "─" * self.width

    def wrap(self, text: str) -> list[str]:
        return wrap(text, self.width)

    def run_on(self, text: str) -> list[str]:
        """The text wrapped, its later lines two blanks in."""
        first, *rest = wrap(text, self.width - 2)
        return [first, *(f"  {line}" for line in rest)]

    def hanging(self, lead: str, text: str) -> list[str]:
        return hanging(lead, text, width=self.width)

    def table(self, rows: Sequence[Sequence[str]], *, indent: int = 0) -> list[str]:
        return table(rows, indent=indent, width=self.width)
