"""Long work over a Parquet file in numbered parts that outlive an interruption.

A part is a slice of a row group. Its result is written under another name and moved
to its own name when it is whole; when all parts are there they are joined and moved
to the final name. So nothing half done ever stands under a final name, and the same
command run again goes on where it stopped. Parts of other work are thrown away.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from itertools import groupby
from pathlib import Path
from typing import NamedTuple, TypeVar

import pyarrow as pa
import pyarrow.parquet as pq

from traywise.errors import Fault, InputError
from traywise.population.join import Joined

PART_ROWS = 65_536
"""Most children in a part: 16 MB of answers, so that a part per worker stays small."""
LEAST_PART_ROWS = 4_096
"""Fewest children in a part of a file that has more: each part costs some milliseconds."""

Progress = Callable[[int], None]
PieceT = TypeVar("PieceT")
ResultT = TypeVar("ResultT")


class Slice(NamedTuple):
    """Part ``number``: ``rows`` rows of a row group from ``offset`` on."""

    number: int
    row_group: int
    offset: int
    rows: int


def open_parquet(path: Path) -> pq.ParquetFile:
    """The file, or InputError with what is wrong."""
    try:
        return pq.ParquetFile(path)
    except (OSError, pa.ArrowInvalid) as error:
        number = error.errno if isinstance(error, OSError) else None
        reason = os.strerror(number) if number else str(error).splitlines()[0].rstrip(".")
        text = f"Cannot be read as Parquet: {reason}. Check the name, or write the file anew."
        raise InputError([Fault("population.E001", path.name, text)]) from None


def count_rows(path: Path) -> int:
    """How many children a file holds; raises InputError when it is no Parquet file."""
    return int(open_parquet(path).metadata.num_rows)


def slices_of(file: pq.ParquetFile, workers: int = 1) -> list[Slice]:
    """The parts of a file, in order: small enough that a small file too busies every worker."""
    rows = min(PART_ROWS, max(LEAST_PART_ROWS, -(-file.metadata.num_rows // workers)))
    found: list[Slice] = []
    for group in range(file.num_row_groups):
        size = file.metadata.row_group(group).num_rows
        for offset in range(0, size, rows):
            found.append(Slice(len(found), group, offset, min(rows, size - offset)))
    return found


def read_slices(
    file: pq.ParquetFile, parts: list[Slice], columns: list[str], done: Callable[[int], bool]
) -> Iterator[tuple[Slice, pa.RecordBatch]]:
    """Each part that is not done as one record batch; row groups that are done are not read."""
    for group, members in groupby(parts, key=lambda part: part.row_group):
        slices = list(members)
        if all(done(part.number) for part in slices):
            continue
        batches = file.iter_batches(slices[0].rows, row_groups=[group], columns=columns)
        held = pa.Table.from_batches([next(batches)])
        for part in slices:
            # The reader may hand out shorter batches than it was asked for.
            while held.num_rows < part.rows:
                held = pa.concat_tables([held, pa.Table.from_batches([next(batches)])])
            piece, held = held.slice(0, part.rows), held.slice(part.rows)
            if not done(part.number):
                yield part, piece.combine_chunks().to_batches()[0]
            if not held.num_rows and part is not slices[-1]:
                held = pa.Table.from_batches([next(batches)])


def run_ahead(
    work: Callable[[Slice, PieceT], ResultT],
    pieces: Iterator[tuple[Slice, PieceT]],
    workers: int,
) -> Iterator[tuple[Slice, ResultT]]:
    """Do the work on every piece on several threads; only one piece per worker waits in memory."""
    with ThreadPoolExecutor(workers) as pool:
        running: dict[Future[ResultT], Slice] = {}
        for part, batch in pieces:
            running[pool.submit(work, part, batch)] = part
            if len(running) > workers:
                yield from _finished(running)
        while running:
            yield from _finished(running)


def _finished(running: dict[Future[ResultT], Slice]) -> Iterator[tuple[Slice, ResultT]]:
    done, _ = wait(running, return_when=FIRST_COMPLETED)
    for future in done:
        yield running.pop(future), future.result()


class PartFolder:
    """The folder of parts beside a target, kept for exactly one piece of work.

    identity  text that says all the work depends on; parts of other work are thrown away
    count     how many parts there will be, at least one
    """

    def __init__(self, target: Path, identity: str, count: int):
        self.target = target
        self.count = count
        self.folder = target.with_name(f".{target.name}.parts")
        digest = hashlib.sha256(identity.encode()).hexdigest()
        mark = self.folder / "work"
        if not mark.is_file() or mark.read_text(encoding="ascii") != digest:
            shutil.rmtree(self.folder, ignore_errors=True)
            self.folder.mkdir(parents=True)
            mark.write_text(digest, encoding="ascii")

    def path(self, number: int) -> Path:
        return self.folder / f"{number:06d}.parquet"

    def has(self, number: int) -> bool:
        return self.path(number).is_file()

    def put(self, number: int, write: Callable[[Path], None], note: bytes = b"") -> None:
        """Let ``write`` fill a file, then give it its name; ``note`` is kept beside it."""
        unfinished = self.folder / f"{number:06d}.{os.getpid()}.unfinished"
        unfinished.write_bytes(note)
        unfinished.replace(self._note_path(number))
        write(unfinished)
        unfinished.replace(self.path(number))

    def note(self, number: int) -> bytes:
        """The note kept with a part that is there."""
        return self._note_path(number).read_bytes()

    def _note_path(self, number: int) -> Path:
        return self.folder / f"{number:06d}.note"

    def join(self, finished: Iterator[tuple[Slice, ResultT]]) -> Iterator[tuple[Slice, ResultT]]:
        """Hand on what ``finished`` yields, and join the parts as they come in.

        At its end the whole file is moved to the target and the folder removed. The parts
        stay until then: when the work is broken off, they are joined again next time.
        """
        whole = self.folder / "whole.unfinished"
        joined_parts = 0
        with whole.open("wb") as file:
            joined = Joined(file)

            def catch_up() -> None:
                nonlocal joined_parts
                while joined_parts < self.count and self.has(joined_parts):
                    joined.append(self.path(joined_parts))
                    joined_parts += 1

            catch_up()
            for part, result in finished:
                yield part, result
                catch_up()
                if joined_parts < self.count:
                    # While the workers go on; else the whole file would wait for the disk at last.
                    os.fsync(file.fileno())
            joined.finish()
            file.flush()
            os.fsync(file.fileno())
        whole.replace(self.target)
        shutil.rmtree(self.folder, ignore_errors=True)
