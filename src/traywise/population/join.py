"""Joins Parquet files of one schema into one, page for page, without decoding them.

A Parquet file is pages, then a footer (Apache Thrift, compact protocol) that says
where each page starts. Copying the pages of several files one after the other and
writing one footer with moved positions gives a valid file at the speed of a copy
(Apache Parquet format, file layout and ``parquet.thrift``). Of a footer only the
positions are read and written anew; all else is carried over byte for byte.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import BinaryIO, NamedTuple

_MARK = b"PAR1"
_TAIL = 8  # length of the footer, then the mark

# Types of the compact protocol.
_TRUE, _FALSE, _BYTE, _DOUBLE, _BINARY, _LIST, _SET, _STRUCT = 1, 2, 3, 7, 8, 9, 10, 12
_WHOLE_NUMBERS = (4, 5, 6)

# Fields of FileMetaData, RowGroup, ColumnChunk and ColumnMetaData.
_NUM_ROWS, _ROW_GROUPS = 3, 4
_COLUMNS, _GROUP_OFFSET, _ORDINAL = 1, 5, 7
_CHUNK_OFFSET, _CHUNK_DATA = 2, 3
_PAGE_OFFSETS = (9, 10, 11)  # data page, index page, dictionary page


def join_parquet(parts: Sequence[Path], target: Path) -> None:
    """Write the row groups of all parts, in order, into ``target``; as for ``Joined``."""
    with target.open("wb") as out:
        joined = Joined(out)
        for part in parts:
            joined.append(part)
        joined.finish()


class Joined:
    """A Parquet file that grows by whole files; valid once it is finished.

    out  where it is written to, empty and at its start
    """

    def __init__(self, out: BinaryIO):
        self._out = out
        self._rows = 0
        self._groups: list[bytes] = []
        self._first: _Footer | None = None
        out.write(_MARK)

    def append(self, part: Path) -> None:
        """Take over the row groups of a file.

        part    of the same schema as the others, without page index and bloom filters
        raises  ValueError when it is no Parquet file
        """
        with part.open("rb") as source:
            data, end = _read_footer(source)
            footer = _Walk(data).footer()
            moved_by = self._out.tell() - len(_MARK)
            source.seek(len(_MARK))
            _copy(source, self._out, end - len(_MARK))
        self._first = self._first or footer
        self._rows += footer.rows
        for group in footer.groups:
            self._groups.append(group.moved(moved_by, len(self._groups)))

    def finish(self) -> None:
        """Write the footer; at least one file was appended."""
        if self._first is None:
            raise ValueError("nothing to join")
        count = len(self._groups)
        head = bytes([count << 4 | _STRUCT]) if count < 15 else b"\xfc" + _varint(count)
        footer = b"".join(
            (
                self._first.until_rows,
                _varint(self._rows << 1),
                self._first.between,
                head,
                *self._groups,
                self._first.behind_groups,
            )
        )
        self._out.write(footer + len(footer).to_bytes(4, "little") + _MARK)


class _Number(NamedTuple):
    """A whole number of a footer and where it stands."""

    start: int
    end: int
    value: int


class _Group(NamedTuple):
    """A row group: its bytes, and in them the positions of pages and its place in the file."""

    data: bytes
    positions: list[_Number]
    ordinals: list[_Number]

    def moved(self, by: int, place: int) -> bytes:
        """The same group where its pages begin ``by`` bytes later, as number ``place``."""
        # 0 stands for "not used", as newer writers do for the position of a chunk.
        news = [(old, old.value + by) for old in self.positions if old.value]
        news += [(old, place) for old in self.ordinals]
        pieces, at = [], 0
        for old, value in sorted(news):
            pieces += [self.data[at : old.start], _varint(value << 1)]
            at = old.end
        return b"".join((*pieces, self.data[at:]))


class _Footer(NamedTuple):
    """A footer in the pieces that a joined one is made of."""

    until_rows: bytes
    rows: int
    between: bytes
    groups: list[_Group]
    behind_groups: bytes


def _read_footer(source: BinaryIO) -> tuple[bytes, int]:
    """The footer of a file and the position where its pages end."""
    size = source.seek(0, 2)
    source.seek(max(0, size - _TAIL))
    tail = source.read()
    if size < _TAIL + len(_MARK) or tail[4:] != _MARK:
        raise ValueError("no Parquet file: the closing mark is missing")
    length = int.from_bytes(tail[:4], "little")
    source.seek(size - _TAIL - length)
    return source.read(length), size - _TAIL - length


def _copy(source: BinaryIO, out: BinaryIO, length: int) -> None:
    left = length
    while left > 0:
        block = source.read(min(left, 1 << 20))
        if not block:
            raise ValueError("the file ends before its pages do")
        out.write(block)
        left -= len(block)


def _varint(value: int) -> bytes:
    data = bytearray()
    while value >= 0x80:
        data.append((value & 0x7F) | 0x80)
        value >>= 7
    data.append(value)
    return bytes(data)


class _Walk:
    """Walks through a footer; what it meets is either read or skipped."""

    def __init__(self, data: bytes):
        self.data = data
        self.at = 0

    def footer(self) -> _Footer:
        rows = _Number(0, 0, 0)
        list_start = list_end = 0
        groups: list[_Group] = []
        for field, kind in self.fields():
            if field == _NUM_ROWS:
                rows = self.number()
            elif field == _ROW_GROUPS:
                list_start = self.at
                groups = [self.group() for _ in range(self.list_head()[1])]
                list_end = self.at
            else:
                self.skip(kind)
        data = self.data
        return _Footer(
            data[: rows.start],
            rows.value,
            data[rows.end : list_start],
            groups,
            data[list_end:],
        )

    def group(self) -> _Group:
        start = self.at
        positions: list[_Number] = []
        ordinals: list[_Number] = []
        for field, kind in self.fields():
            if field == _COLUMNS:
                for _ in range(self.list_head()[1]):
                    self.chunk(positions)
            elif field == _GROUP_OFFSET:
                positions.append(self.number())
            elif field == _ORDINAL:
                ordinals.append(self.number())
            else:
                self.skip(kind)

        def within(numbers: list[_Number]) -> list[_Number]:
            return [_Number(n.start - start, n.end - start, n.value) for n in numbers]

        return _Group(self.data[start : self.at], within(positions), within(ordinals))

    def chunk(self, positions: list[_Number]) -> None:
        for field, kind in self.fields():
            if field == _CHUNK_OFFSET:
                positions.append(self.number())
            elif field == _CHUNK_DATA:
                for inner, inner_kind in self.fields():
                    if inner in _PAGE_OFFSETS:
                        positions.append(self.number())
                    else:
                        self.skip(inner_kind)
            else:
                self.skip(kind)

    def fields(self) -> Iterator[tuple[int, int]]:
        """Number and type of each field of a struct; the walk then stands at its value."""
        field = 0
        while True:
            head = self.data[self.at]
            self.at += 1
            if head == 0:
                return
            field = field + (head >> 4) if head >> 4 else self.number().value
            yield field, head & 0x0F

    def varint(self) -> int:
        value = shift = 0
        while True:
            byte = self.data[self.at]
            self.at += 1
            value |= (byte & 0x7F) << shift
            if byte < 0x80:
                return value
            shift += 7

    def number(self) -> _Number:
        start = self.at
        value = self.varint()
        return _Number(start, self.at, (value >> 1) ^ -(value & 1))

    def list_head(self) -> tuple[int, int]:
        """Type and number of the items of a list."""
        head = self.data[self.at]
        self.at += 1
        return head & 0x0F, head >> 4 if head >> 4 < 15 else self.varint()

    def skip(self, kind: int) -> None:
        """Go behind the value of a field."""
        if kind in _WHOLE_NUMBERS:
            while self.data[self.at] >= 0x80:
                self.at += 1
            self.at += 1
        elif kind == _BINARY:
            length = self.varint()
            self.at += length
        elif kind in (_LIST, _SET):
            inner, count = self.list_head()
            for _ in range(count):
                # In a list a truth value takes a byte, in a struct it stands in the field's head.
                self.skip(_BYTE if inner in (_TRUE, _FALSE) else inner)
        elif kind == _STRUCT:
            for _, inner in self.fields():
                self.skip(inner)
        elif kind in (_BYTE, _DOUBLE):
            self.at += 1 if kind == _BYTE else 8
        elif kind not in (_TRUE, _FALSE):
            raise ValueError(f"the footer holds a value of unknown type {kind}")
