"""Splits JSON text into children: one object, an array, or one object a line.

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

Path = tuple[str | int, ...]

_SPACE = " \t\r\n"
_SURROGATE = re.compile(r"\\u[dD][89a-fA-F]")


class Piece(msgspec.Struct, kw_only=True):
    """One value of the file and where its text begins; ``fault`` when it could not be read."""

    line: int
    start: int
    value: Any = None
    fault: Fault | None = None
    twice: tuple[str, ...] = ()  # keys that stand twice in one object


class _Decoder:
    """A JSON decoder that notes double keys and refuses NaN and Infinity."""

    def __init__(self, text: str) -> None:
        self.twice: list[str] = []
        self._has_surrogates = _SURROGATE.search(text) is not None
        self._json = json.JSONDecoder(
            object_pairs_hook=self._members, parse_constant=self._refuse_constant
        )

    def _members(self, pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        members = dict(pairs)
        if len(members) < len(pairs):
            keys = [key for key, _ in pairs]
            self.twice += sorted({key for key in keys if keys.count(key) > 1})
        return members

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
    start = _skip(text, 0)
    if start == len(text):
        fault = Fault("record.E005", name, "The file is empty. Give it at least one child.")
        return [Piece(line=1, start=0, fault=fault)]
    decoder = _Decoder(text)
    if text[start] == "[":
        return _split_array(text, start, name, decoder)
    whole = _read_piece(text, start, name, decoder)
    if whole.fault is None and _skip(text, whole.start) == len(text):
        whole.start = start
        return [whole]
    if _looks_like_lines(text):
        return _split_lines(text, name, decoder)
    if whole.fault is None:
        at = f"{name}, line {line_at(text, whole.start)}"
        whole.fault = Fault(
            "record.E002",
            at,
            "More text follows the object. Write a list, or one child a line.",
        )
    return [whole]


def _skip(text: str, position: int) -> int:
    while position < len(text) and text[position] in _SPACE:
        position += 1
    return position


def line_at(text: str, position: int) -> int:
    """Line number, from 1, of a position."""
    return text.count("\n", 0, position) + 1


def _looks_like_lines(text: str) -> bool:
    """Whether the text is one object a line: its second line opens an object too."""
    lines = [line for line in text.split("\n") if line.strip()]
    return len(lines) > 1 and lines[1].lstrip().startswith("{") and lines[1].count('"') > 1


def _read_piece(text: str, start: int, name: str, decoder: _Decoder) -> Piece:
    """The value at ``start``; the piece's ``start`` is set to the position after it."""
    line = line_at(text, start)
    try:
        value, end, twice = decoder.decode(text, start)
    except JSONDecodeError as error:
        at = f"{name}, line {error.lineno}, column {error.colno}"
        found = Fault("record.E002", at, f"Not JSON: {error.msg}. Mend the syntax at this place.")
    except RecursionError:
        found = Fault("record.E006", f"{name}, line {line}", "Nested too deep to be a child.")
    except ValueError as error:
        found = Fault("record.E002", f"{name}, line {line}", f"Not JSON: {error}.")
    else:
        return Piece(line=line, start=end, value=value, twice=twice)
    return Piece(line=line, start=start, fault=found)


def _split_array(text: str, start: int, name: str, decoder: _Decoder) -> list[Piece]:
    pieces: list[Piece] = []
    position = _skip(text, start + 1)
    line, counted = line_at(text, position), position
    if text[position : position + 1] == "]":
        return _check_end(text, position + 1, name, pieces)
    while True:
        line += text.count("\n", counted, position)
        counted = position
        piece = _read_piece_at(text, position, line, name, decoder)
        end, piece.start = piece.start, position
        pieces.append(piece)
        if piece.fault is not None:
            return pieces  # what follows has lost its place
        position = _skip(text, end)
        mark = text[position : position + 1]
        if mark == "]":
            return _check_end(text, position + 1, name, pieces)
        if mark != ",":
            at = f"{name}, line {line_at(text, position)}"
            found = Fault("record.E002", at, "The list is not closed. Put a comma or ] here.")
            return [*pieces, Piece(line=line_at(text, position), start=position, fault=found)]
        position = _skip(text, position + 1)


def _read_piece_at(text: str, start: int, line: int, name: str, decoder: _Decoder) -> Piece:
    """As _read_piece, with the line known: counting from the top each time would be slow."""
    try:
        value, end, twice = decoder.decode(text, start)
    except (ValueError, RecursionError):
        return _read_piece(text, start, name, decoder)
    return Piece(line=line, start=end, value=value, twice=twice)


def _check_end(text: str, position: int, name: str, pieces: list[Piece]) -> list[Piece]:
    position = _skip(text, position)
    if position < len(text):
        line = line_at(text, position)
        found = Fault("record.E002", f"{name}, line {line}", "Text follows the list. Remove it.")
        pieces.append(Piece(line=line, start=position, fault=found))
    return pieces


def _split_lines(text: str, name: str, decoder: _Decoder) -> list[Piece]:
    pieces: list[Piece] = []
    position = 0
    for number, line in enumerate(text.split("\n"), start=1):
        if line.strip():
            piece = _read_line(line, number, name, decoder)
            piece.start = position
            pieces.append(piece)
        position += len(line) + 1
    return pieces


def _read_line(line: str, number: int, name: str, decoder: _Decoder) -> Piece:
    piece = _read_piece(line, _skip(line, 0), name, decoder)
    piece.line = number
    if piece.fault is not None:
        at = piece.fault.at.replace("line 1", f"line {number}", 1)
        piece.fault = Fault(piece.fault.code, at, piece.fault.text)
    elif line[piece.start :].strip():
        found = Fault(
            "record.E002", f"{name}, line {number}", "More than one value on the line. Write one."
        )
        piece.fault = found
    return piece


def find_line(text: str, start: int, path: Path) -> int:
    """Line of the value that a path names inside the JSON value at ``start``.

    Walks as far as the path exists; used only when there is a fault to report.
    """
    position = _skip(text, start)
    for step in path:
        found = _enter(text, position, step)
        if found is None:
            break
        position = found
    return line_at(text, position)


def _enter(text: str, position: int, step: str | int) -> int | None:
    """Position of a member or element of the object or array at ``position``."""
    opening = text[position : position + 1]
    if opening not in ("{", "["):
        return None
    decoder = json.JSONDecoder()
    found, number = None, 0
    position = _skip(text, position + 1)
    while position < len(text) and text[position] not in "}]":
        key: str | int = number
        if opening == "{":
            key, position = decoder.raw_decode(text, position)
            position = _skip(text, _skip(text, position) + 1)
        if key == step:
            found = position  # the last of double keys, as the decoder keeps it
            if opening == "[":
                break
        _, position = decoder.raw_decode(text, position)
        position = _skip(text, position)
        if text[position : position + 1] == ",":
            position = _skip(text, position + 1)
        number += 1
    return found
