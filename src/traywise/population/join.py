"""Joins Parquet files of one schema into one, page for page, without decoding them.

A Parquet file is pages, then a footer (Apache Thrift, compact protocol) that says
where each page starts. Copying the pages of several files one after the other and
writing one footer with moved positions gives a valid file at the speed of a copy
(Apache Parquet format, file layout and ``parquet.thrift``).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, BinaryIO

_MARK = b"PAR1"
_TAIL = 8  # length of the footer, then the mark

# Types of the compact protocol.
_TRUE, _FALSE, _BYTE, _DOUBLE, _BINARY, _LIST, _SET, _STRUCT = 1, 2, 3, 7, 8, 9, 10, 12

# Fields of FileMetaData, RowGroup, ColumnChunk and ColumnMetaData.
_NUM_ROWS, _ROW_GROUPS = 3, 4
_COLUMNS, _GROUP_OFFSET, _ORDINAL = 1, 5, 7
_CHUNK_OFFSET, _CHUNK_DATA = 2, 3
_PAGE_OFFSETS = (9, 10, 11)  # data page, index page, dictionary page

Struct = dict[int, tuple[int, Any]]


def join_parquet(parts: Sequence[Path], target: Path) -> None:
    """Write the row groups of all parts, in order, into ``target``.

    parts   files of one schema, without page index and bloom filters, at least one
    raises  ValueError when a part is no Parquet file
    """
    whole: Struct = {}
    with target.open("wb") as out:
        out.write(_MARK)
        for part in parts:
            with part.open("rb") as source:
                footer, end = _read_footer(source)
                moved_by = out.tell() - len(_MARK)
                source.seek(len(_MARK))
                _copy(source, out, end - len(_MARK))
            _move(footer, moved_by)
            whole = _append(whole, footer)
        data = bytearray()
        _write_struct(data, whole)
        out.write(data + len(data).to_bytes(4, "little") + _MARK)


def _read_footer(source: BinaryIO) -> tuple[Struct, int]:
    """The footer of a file and the position where its pages end."""
    size = source.seek(0, 2)
    source.seek(max(0, size - _TAIL))
    tail = source.read()
    if size < _TAIL + len(_MARK) or tail[4:] != _MARK:
        raise ValueError("no Parquet file: the closing mark is missing")
    length = int.from_bytes(tail[:4], "little")
    source.seek(size - _TAIL - length)
    return _Reader(source.read(length)).struct(), size - _TAIL - length


def _copy(source: BinaryIO, out: BinaryIO, length: int) -> None:
    left = length
    while left > 0:
        block = source.read(min(left, 1 << 20))
        if not block:
            raise ValueError("the file ends before its pages do")
        out.write(block)
        left -= len(block)


def _move(footer: Struct, by: int) -> None:
    for group in footer[_ROW_GROUPS][1][1]:
        _shift(group, _GROUP_OFFSET, by)
        for chunk in group[_COLUMNS][1][1]:
            if chunk[_CHUNK_OFFSET][1]:  # 0: not used, as newer writers do
                _shift(chunk, _CHUNK_OFFSET, by)
            for field in _PAGE_OFFSETS:
                _shift(chunk[_CHUNK_DATA][1], field, by)


def _shift(holder: Struct, field: int, by: int) -> None:
    if field in holder:
        kind, value = holder[field]
        holder[field] = (kind, value + by)


def _append(whole: Struct, footer: Struct) -> Struct:
    if not whole:
        return footer
    groups = whole[_ROW_GROUPS][1][1]
    for group in footer[_ROW_GROUPS][1][1]:
        if _ORDINAL in group:
            group[_ORDINAL] = (group[_ORDINAL][0], len(groups))
        groups.append(group)
    kind, rows = whole[_NUM_ROWS]
    whole[_NUM_ROWS] = (kind, rows + footer[_NUM_ROWS][1])
    return whole


class _Reader:
    """Reads the compact protocol into plain values: structs as {field: (type, value)}."""

    def __init__(self, data: bytes):
        self.data = data
        self.at = 0

    def varint(self) -> int:
        value = shift = 0
        while True:
            byte = self.data[self.at]
            self.at += 1
            value |= (byte & 0x7F) << shift
            if byte < 0x80:
                return value
            shift += 7

    def struct(self) -> Struct:
        fields: Struct = {}
        field = 0
        while True:
            head = self.data[self.at]
            self.at += 1
            if head == 0:
                return fields
            if head >> 4:
                field += head >> 4
            else:
                field = _unzigzag(self.varint())
            kind = head & 0x0F
            fields[field] = (kind, None if kind in (_TRUE, _FALSE) else self.value(kind))

    def value(self, kind: int) -> Any:
        if kind in (_TRUE, _FALSE, _BYTE):
            return self.take(1)
        if kind == _DOUBLE:
            return self.take(8)
        if kind == _BINARY:
            return self.take(self.varint())
        if kind == _STRUCT:
            return self.struct()
        if kind in (_LIST, _SET):
            head = self.take(1)[0]
            count = head >> 4 if head >> 4 < 15 else self.varint()
            return (head & 0x0F, [self.value(head & 0x0F) for _ in range(count)])
        if kind in (4, 5, 6):
            return _unzigzag(self.varint())
        raise ValueError(f"the footer holds a value of unknown type {kind}")

    def take(self, length: int) -> bytes:
        self.at += length
        return self.data[self.at - length : self.at]


def _unzigzag(value: int) -> int:
    return (value >> 1) ^ -(value & 1)


def _write_varint(data: bytearray, value: int) -> None:
    while value >= 0x80:
        data.append((value & 0x7F) | 0x80)
        value >>= 7
    data.append(value)


def _write_number(data: bytearray, value: int) -> None:
    _write_varint(data, value << 1 if value >= 0 else (-value << 1) - 1)


def _write_struct(data: bytearray, fields: Struct) -> None:
    last = 0
    for field, (kind, value) in fields.items():
        if 0 < field - last < 16:
            data.append((field - last) << 4 | kind)
        else:
            data.append(kind)
            _write_number(data, field)
        last = field
        if kind not in (_TRUE, _FALSE):
            _write_value(data, kind, value)
    data.append(0)


def _write_value(data: bytearray, kind: int, value: Any) -> None:
    if kind in (_TRUE, _FALSE, _BYTE, _DOUBLE):
        data += value
    elif kind == _BINARY:
        _write_varint(data, len(value))
        data += value
    elif kind == _STRUCT:
        _write_struct(data, value)
    elif kind in (_LIST, _SET):
        inner, items = value
        if len(items) < 15:
            data.append(len(items) << 4 | inner)
        else:
            data.append(0xF0 | inner)
            _write_varint(data, len(items))
        for item in items:
            _write_value(data, inner, item)
    else:
        _write_number(data, value)
