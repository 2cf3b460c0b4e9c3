"""Keeps checked rulebook objects on disk, so that a command need not read every table anew.

The file's name is a digest of everything the object was made from: the data files, and
the code that reads and checks them. Whatever changes gives another name, so a kept
object can be missing but never old. A broken or unreadable file is made again.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from functools import cache
from hashlib import blake2b
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from traywise import __version__

T = TypeVar("T")

_ROOM = Path(__file__).resolve().parent


@cache
def _folder() -> Path | None:
    """Where objects are kept: ``TRAYWISE_CACHE`` or the user's cache folder; None: nowhere."""
    named = os.environ.get("TRAYWISE_CACHE")
    if named == "":
        return None
    base = Path(named) if named else Path(os.environ.get("XDG_CACHE_HOME") or "~/.cache")
    folder = base.expanduser() / "traywise" / "rulebook"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, RuntimeError):
        return None
    return folder


def _code_digest() -> bytes:
    """Digest of the code that turns files into objects."""
    digest = blake2b(f"{__version__} {sys.version}".encode())
    for path in (*sorted(_ROOM.glob("*.py")), _ROOM.parent / "calendar.py"):
        digest.update(path.read_bytes())
    return digest.digest()


# Taken together with the code itself: files that change later are not the code that runs.
_CODE = _code_digest()


def kept(kind: Any, inputs: Iterable[Path | bytes], build: Callable[[], T]) -> T:
    """The object of type ``kind`` made from ``inputs``: kept from an earlier run, or built now.

    kind    a type msgspec can write and read; the code of its module counts as an input too
    inputs  files, read whole, and bytes; everything that makes a difference to the object
    build   makes the object; what it raises is raised, and nothing is kept
    """
    folder = _folder()
    if folder is None:
        return build()
    place = folder / _name(kind, inputs)
    try:
        found: T = msgspec.msgpack.decode(place.read_bytes(), type=kind)
    except (OSError, msgspec.MsgspecError):
        found = build()
        _keep(place, msgspec.msgpack.encode(found))
    return found


def _name(kind: Any, inputs: Iterable[Path | bytes]) -> str:
    digest = blake2b(_CODE, digest_size=20)
    digest.update(repr(kind).encode())
    for module in sorted(_modules(kind)):
        code = getattr(sys.modules.get(module), "__file__", None)
        if code is not None:
            digest.update(Path(code).read_bytes())
    for item in inputs:
        name, content = (b"", item) if isinstance(item, bytes) else _read(item)
        # With its length, so that what ends one input never begins the next.
        digest.update(b"%d %s %d\n" % (len(name), name, len(content)))
        digest.update(content)
    return digest.hexdigest()


def _read(path: Path) -> tuple[bytes, bytes]:
    return path.name.encode(), path.read_bytes()


def _modules(kind: Any) -> set[str]:
    """Modules that define the structs inside a type."""
    found = {module for part in getattr(kind, "__args__", ()) for module in _modules(part)}
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        found.add(kind.__module__)
    return found


def _keep(place: Path, content: bytes) -> None:
    # Written beside and renamed: another process never sees half a file.
    half = place.with_suffix(f".{os.getpid()}")
    try:
        half.write_bytes(content)
        half.replace(place)
    except OSError:
        half.unlink(missing_ok=True)
