"""Splits JSON text into children: one object, a list, one object a line, or one after another.

Each piece keeps the line it starts on; a broken piece keeps the fault in place of
the value, so that the others are still read.
"""

from __future__ import annotations

import json
import re
from json import JSONDecodeError
from typing import Any

import msgspec

from traywise.errors import Fault
from traywise.record.json_place import end_of_broken, line_at, skip_space

_SURROGATE = re.compile(r"\\u[dD][89a-fA-F]")


class Piece(msgspec.Struct, kw_only=True):
    """One value of the file and where its text begins; ``fault`` when it could not be read."""

    line: int
    start: int
    end: int | None = None  # position after it; None when a broken piece has no known end
    value: Any = None
    fault: Fault | None = None
    twice: tuple[str, ...] = ()  # keys that stand twice in one object


class _Decoder:
    """A JSON decoder that notes double keys and refuses NaN and Infinity."""

    def __init__(self, text: str) -> None:
        self.twice: list[str] = []
        self._has_surrogates = _SURROGATE.search(text) is not None
        self._json = json.JSONDecoder(
            object_pairs_hook=self._members,
            parse_constant=self._refuse_constant,
            parse_int=self._whole,
        )

    def _members(self, pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        members = dict(pairs)
        if len(members) < len(pairs):
            keys = [key for key, _ in pairs]
            self.twice += sorted({key for key in keys if keys.count(key) > 1})
        return members

    @staticmethod
    def _whole(text: str) -> int:
        if len(text) > 4000:  # Python's own limit lies a little higher
            raise ValueError(f"a number of {len(text)} digits stands here")
        return int(text)

    @staticmethod
    def _refuse_constant(text: str) -> Any:
        raise ValueError(f"{text} is not a number that JSON knows")

    def decode(self, text: str, start: int) -> tuple[Any, int, tuple[str, ...]]:
        """Value, position after it, keys that stand twice."""
        self.twice = []
        value, end = self._json.raw_decode(text, start)
        if self._has_surrogates:
            _refuse_half_pairs(value)
        return value, end, tuple(self.twice)


def _refuse_half_pairs(value: Any) -> None:
    """Half of a surrogate pair is no sign, and nothing could write it out again."""
    try:
        json.dumps(value, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        raise ValueError("half of a surrogate pair (\\ud800 to \\udfff) stands alone") from None


def split_json(text: str, name: str) -> list[Piece]:
    """All pieces of the text, in order; never raises on any text."""
    start = skip_space(text, 0)
    if start == len(text):
        return [_empty(name, "The file is empty. Give it at least one child.")]
    decoder = _Decoder(text)
    if text[start] == "[":
        return _split_list(text, start, name, decoder)
    if _looks_like_lines(text):
        return _split_lines(text, name, decoder)
    return _split_stream(text, start, name, decoder)


def _empty(name: str, said: str) -> Piece:
    return Piece(line=1, start=0, fault=Fault("record.E005", name, said))


def _looks_like_lines(text: str) -> bool:
    """Whether the text is one object a line: its first two lines open an object each."""
    lines = [line.strip() for line in text.split("\n", 50) if line.strip()][:2]
    return len(lines) == 2 and all(line.startswith("{") and len(line) > 1 for line in lines)


def _read_piece(
    text: str, start: int, line: int, name: str, decoder: _Decoder, lines_before: int = 0
) -> Piece:
    """The value at ``start``, which stands on ``line``.

    lines_before  lines of the file above ``text``, where it is one line of it
    """
    try:
        value, end, twice = decoder.decode(text, start)
    except JSONDecodeError as error:
        at = f"{name}, line {error.lineno + lines_before}, column {error.colno}"
        found = Fault("record.E002", at, f"Not JSON: {error.msg}. Mend the syntax at this place.")
    except RecursionError:
        found = Fault("record.E006", f"{name}, line {line}", "Nested too deep to be a child.")
    except ValueError as error:
        found = Fault("record.E002", f"{name}, line {line}", f"Not JSON: {error}.")
    else:
        return Piece(line=line, start=start, end=end, value=value, twice=twice)
    return Piece(line=line, start=start, end=end_of_broken(text, start), fault=found)


def _broken(text: str, position: int, name: str, said: str) -> Piece:
    line = line_at(text, position)
    fault = Fault("record.E002", f"{name}, line {line}", said)
    return Piece(line=line, start=position, end=len(text), fault=fault)


def _split_stream(text: str, start: int, name: str, decoder: _Decoder) -> list[Piece]:
    """One object, or several one after another, however their lines are broken."""
    pieces: list[Piece] = []
    position, line, counted = start, line_at(text, start), start
    while position < len(text):
        line += text.count("\n", counted, position)
        counted = position
        if pieces and text[position] != "{":
            said = "Text follows that is no object. Remove it, or write one child a line."
            return [*pieces, _broken(text, position, name, said)]
        piece = _read_piece(text, position, line, name, decoder)
        pieces.append(piece)
        if piece.end is None:
            break
        position = skip_space(text, piece.end)
    return pieces


def _split_list(text: str, start: int, name: str, decoder: _Decoder) -> list[Piece]:
    pieces: list[Piece] = []
    position = skip_space(text, start + 1)
    line, counted = line_at(text, position), position
    if text[position : position + 1] == "]":
        pieces.append(_empty(name, "The list is empty. Give it at least one child."))
        return _check_end(text, position + 1, name, pieces)
    while True:
        line += text.count("\n", counted, position)
        counted = position
        piece = _read_piece(text, position, line, name, decoder)
        pieces.append(piece)
        if piece.end is None:
            return pieces
        position = skip_space(text, piece.end)
        mark = text[position : position + 1]
        if mark == "]":
            return _check_end(text, position + 1, name, pieces)
        if mark != ",":
            said = "The list is not closed. Put a comma or ] here."
            return [*pieces, _broken(text, position, name, said)]
        position = skip_space(text, position + 1)


def _check_end(text: str, position: int, name: str, pieces: list[Piece]) -> list[Piece]:
    position = skip_space(text, position)
    if position < len(text):
        pieces.append(_broken(text, position, name, "Text follows the list. Remove it."))
    return pieces


def _split_lines(text: str, name: str, decoder: _Decoder) -> list[Piece]:
    pieces: list[Piece] = []
    position = 0
    for number, line in enumerate(text.split("\n"), start=1):
        if line.strip():
            start = skip_space(line, 0)
            piece = _read_piece(line, start, number, name, decoder, lines_before=number - 1)
            if piece.fault is None and line[piece.end :].strip():
                said = "Something follows the object on its line. Remove it."
                piece.fault = Fault("record.E002", f"{name}, line {number}", said)
            piece.start, piece.end = position + start, position + len(line)
            pieces.append(piece)
        position += len(line) + 1
    return pieces
