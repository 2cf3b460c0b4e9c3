"""Bytes to text: UTF-8 with or without mark, UTF-16 by its mark or its zero bytes."""

from __future__ import annotations

import codecs

from traywise.errors import Fault

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),  # before UTF-16, whose mark it begins with
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


def _guess(data: bytes) -> tuple[str, int]:
    """The encoding and how many bytes its mark takes."""
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return encoding, len(mark)
    head = data[:64]
    if len(head) > 1 and 0 in head:
        # Text that starts with ASCII has its zero bytes all on one side in UTF-16.
        if not any(head[0::2]):
            return "utf-16-be", 0
        if not any(head[1::2]):
            return "utf-16-le", 0
    return "utf-8", 0


def decode_text(
    data: bytes | str, name: str, *, old_windows: bool = False
) -> tuple[str | None, list[Fault]]:
    """The text, or None and the fault; ``old_windows`` allows Windows-1252 with a warning.

    A table saved by an office program may be Windows-1252; a JSON file may not.
    """
    if isinstance(data, str):
        if not _is_whole(data):
            return None, [_not_text(name, 1)]
        return data.removeprefix("\ufeff"), []
    encoding, skip = _guess(data)
    try:
        return data[skip:].decode(encoding), []
    except UnicodeDecodeError as error:
        if old_windows and b"\0" not in data:
            return _decode_windows(data, name)
        return None, [_not_text(name, data.count(b"\n", 0, error.start) + 1)]


def _is_whole(text: str) -> bool:
    """Whether no half of a surrogate pair stands alone, which no file could hold."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True


def _not_text(name: str, line: int) -> Fault:
    text = "This is not text in UTF-8. Save the file as UTF-8 and read it again."
    return Fault("record.E001", f"{name}, line {line}", text)


def _decode_windows(data: bytes, name: str) -> tuple[str, list[Fault]]:
    text = data.decode("cp1252", errors="replace")
    warning = (
        "The text is not UTF-8 and was read as Windows-1252. Check letters with accents, "
        "or save the file as UTF-8."
    )
    return text, [Fault("record.W102", name, warning)]
