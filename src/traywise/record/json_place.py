"""Where in a JSON text a value stands: used only when there is a fault to report."""

from __future__ import annotations

import json

Path = tuple[str | int, ...]

SPACE = " \t\r\n"


def skip_space(text: str, position: int) -> int:
    """The next position that holds no space."""
    while position < len(text) and text[position] in SPACE:
        position += 1
    return position


def line_at(text: str, position: int) -> int:
    """Line number, from 1, of a position."""
    return text.count("\n", 0, position) + 1


def end_of_broken(text: str, start: int) -> int | None:
    """Position after the object that begins at ``start``, by its brackets; None when they are
    not balanced, so that what follows has lost its place."""
    depth, position = 0, start
    while position < len(text):
        sign = text[position]
        if sign == '"':
            position = _end_of_string(text, position)
            continue
        if sign in "{[":
            depth += 1
        elif sign in "}]":
            depth -= 1
            if depth <= 0:
                return position + 1 if depth == 0 else None
        position += 1
    return None


def _end_of_string(text: str, start: int) -> int:
    position = start + 1
    while position < len(text) and text[position] != '"':
        position += 2 if text[position] == "\\" else 1
    return position + 1


def find_line(text: str, start: int, path: Path) -> int:
    """Line of the value that a path names inside the JSON value at ``start``.

    Walks as far as the path exists; used only when there is a fault to report.
    """
    position = skip_space(text, start)
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
    position = skip_space(text, position + 1)
    while position < len(text) and text[position] not in "}]":
        key: str | int = number
        if opening == "{":
            key, position = decoder.raw_decode(text, position)
            position = skip_space(text, skip_space(text, position) + 1)
        if key == step:
            found = position  # the last of double keys, as the decoder keeps it
            if opening == "[":
                break
        _, position = decoder.raw_decode(text, position)
        position = skip_space(text, position)
        if text[position : position + 1] == ",":
            position = skip_space(text, position + 1)
        number += 1
    return found
