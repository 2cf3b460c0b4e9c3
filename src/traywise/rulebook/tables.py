"""Reads a TOML table into typed rows and reports every fault of the file at once.

Every row carries ``key`` (unique in its file) and ``source``: a key of
``sources.toml``, a comma and the table or section; or ``common practice``; or
``from memory``, alone or after a key and comma for a value nobody has confirmed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import msgspec

from traywise.calendar import Span, parse_span
from traywise.errors import Fault, RulebookError
from traywise.rulebook.kept import kept

EDITIONS = Path(__file__).resolve().parent.parent / "editions"

COMMON_PRACTICE = "common practice"
FROM_MEMORY = "from memory"

RowT = TypeVar("RowT", bound=msgspec.Struct)


class Source(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A publication the rows cite. ``confirmed`` is the day a person compared the rows with it."""

    title: str
    publisher: str
    published: str = ""
    confirmed: str = ""
    read: str = ""  # what was read: text, part, or through a restatement
    url: str = ""


def read_toml(path: Path) -> tuple[dict[str, Any], list[Fault]]:
    """The parsed file, or an empty dict and the fault that prevented it."""
    import tomllib  # late: tables that are kept need no parser

    try:
        return tomllib.loads(path.read_text(encoding="utf-8")), []
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        return {}, [
            Fault("rulebook.E001", place(path), f"Not readable as TOML: {error}. Mend the syntax.")
        ]


def place(path: Path, *parts: str) -> str:
    """Where in the editions a fault lies: file, row, key."""
    try:
        shown = path.resolve().relative_to(EDITIONS)
        name = f"editions/{shown.as_posix()}"
    except ValueError:
        name = path.name
    return ", ".join((name, *(part for part in parts if part)))


def convert_row(
    raw: object, row_type: type[RowT], path: Path, where: str
) -> tuple[RowT | None, list[Fault]]:
    """One typed row, or the fault that names file, row and key."""
    try:
        # Spans are structs, so they are turned from text before msgspec sees them.
        return msgspec.convert(_spans_to_dicts(raw, row_type), row_type), []
    except (msgspec.ValidationError, ValueError) as error:
        text, _, key_path = str(error).partition(" - at `$")
        key = key_path.rstrip("`").lstrip(".")
        return None, [Fault("rulebook.E012", place(path, where, key), text)]


def _spans_to_dicts(raw: object, row_type: type[msgspec.Struct]) -> object:
    """Replace span texts by months and days in the fields typed as spans, nested ones too."""
    if not isinstance(raw, dict):
        return raw
    out = dict(raw)
    for name, kind in _typed_fields(row_type):
        if name in out:
            out[name] = _convert_value(out[name], kind, name)
    return out


@cache
def _typed_fields(row_type: type[msgspec.Struct]) -> tuple[tuple[str, Any], ...]:
    """Names and types of a row; cached, because resolving the hints costs a millisecond a row."""
    return tuple((field.encode_name, field.type) for field in msgspec.structs.fields(row_type))


def _convert_value(value: object, kind: Any, name: str) -> object:
    if isinstance(value, str) and _mentions(kind, Span):
        try:
            span = parse_span(value)
        except ValueError as error:
            raise ValueError(f"{error} - at `$.{name}`") from None
        return {"months": span.months, "days": span.days}
    inner = _struct_in(kind)
    if inner is not None and isinstance(value, dict):
        return _spans_to_dicts(value, inner)
    if inner is not None and isinstance(value, list):
        return [_spans_to_dicts(item, inner) for item in value]
    return value


def _arguments(kind: Any) -> tuple[Any, ...]:
    return tuple(getattr(kind, "__args__", ()))


def _mentions(kind: Any, wanted: type) -> bool:
    return kind is wanted or any(_mentions(part, wanted) for part in _arguments(kind))


def _struct_in(kind: Any) -> type[msgspec.Struct] | None:
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct) and kind is not Span:
        return kind
    for part in _arguments(kind):
        found = _struct_in(part)
        if found is not None:
            return found
    return None


def read_rows(
    path: Path, row_type: type[RowT], name: str = "row"
) -> tuple[list[RowT], list[Fault]]:
    """All rows of ``[[name]]`` in a file, and every fault found in them."""
    data, faults = read_toml(path)
    raw_rows = data.get(name, [])
    if not faults and not isinstance(raw_rows, list):
        faults.append(Fault("rulebook.E002", place(path, name), f"Write rows as [[{name}]]."))
        raw_rows = []
    rows: list[RowT] = []
    seen: set[str] = set()
    for number, raw in enumerate(raw_rows, start=1):
        key = raw.get("key") if isinstance(raw, dict) else None
        where = f'row "{key}"' if key else f"row {number}"
        row, row_faults = convert_row(raw, row_type, path, where)
        faults += row_faults
        if isinstance(key, str) and key in seen:
            faults.append(Fault("rulebook.E013", place(path, where), f'"{key}" stands twice.'))
        if isinstance(key, str):
            seen.add(key)
        if row is not None:
            faults += check_source(getattr(row, "source", None), path, where)
            rows.append(row)
    return rows, faults


@cache
def sources() -> dict[str, Source]:
    """All sources by key; raises RulebookError when the file is not fit for use."""
    path = EDITIONS / "sources.toml"
    return kept(dict[str, Source], (path,), lambda: _read_sources(path))


def _read_sources(path: Path) -> dict[str, Source]:
    data, faults = read_toml(path)
    found: dict[str, Source] = {}
    for key, raw in data.items():
        source, source_faults = convert_row(raw, Source, path, f'source "{key}"')
        faults += source_faults
        if source is not None:
            found[key] = source
    if faults:
        raise RulebookError(faults)
    return found


def check_source(source: str | None, path: Path, where: str) -> list[Fault]:
    """A row without a known source does not load."""
    if source is None:
        return []
    if source in (COMMON_PRACTICE, FROM_MEMORY):
        return []
    key = source.partition(",")[0]
    if key in sources():
        return []
    return [
        Fault(
            "rulebook.E014",
            place(path, where, "source"),
            f'"{key}" is not in sources.toml. Add it there, or write "{COMMON_PRACTICE}" '
            f'or "{FROM_MEMORY}".',
        )
    ]


def is_from_memory(source: str) -> bool:
    """Whether a row's value still waits for someone to confirm it: marked so, or its first
    source was itself only remembered.

    >>> is_from_memory("cdc-notes-2025, HPV, from memory"), is_from_memory("common practice")
    (True, False)
    """
    known = sources().get(source.partition(",")[0])
    return FROM_MEMORY in source or (known is not None and known.read.startswith(FROM_MEMORY))


def describe_source(source: str) -> str:
    """A source as a reader wants it: titles instead of keys, in every part of the text.

    >>> describe_source("common practice")
    'common practice'
    """
    return "; ".join(_describe_part(part) for part in source.split("; "))


class Citation(NamedTuple):
    """What is cited, as a reader wants it, and where in it: table, row, section, or nothing."""

    publication: str
    detail: str = ""


def citations(source: str) -> list[Citation]:
    """The publications of a source, one a part; what no key is known for stays as written.

    >>> citations("late dose: common practice; from memory")
    [Citation(publication='common practice', detail='late dose'), \
Citation(publication='from memory', detail='')]
    """
    return [_citation(part) for part in source.split("; ") if part]


def _citation(part: str) -> Citation:
    what, _, cited = part.rpartition(": ")
    if cited in (COMMON_PRACTICE, FROM_MEMORY):
        return Citation(cited, what)
    key, _, rest = cited.partition(",")
    known = sources().get(key)
    if known is None:
        return Citation(part)
    detail = f"{rest.strip()} ({what})" if what and rest else what or rest.strip()
    return Citation(f"{known.publisher}, {known.title}", detail)


def describe_sources(sources: Iterable[str]) -> list[str]:
    """Sources by publication, in the order in which each is first named.

    >>> describe_sources(["cvx-codes, 08", "common practice", "cvx-codes, 110; cvx-codes"])
    ['CDC, Vaccines administered (CVX) code set: 08, 110', 'common practice']
    """
    found: dict[str, dict[str, None]] = {}
    for source in sources:
        for publication, detail in citations(source):
            details = found.setdefault(publication, {})
            if detail:
                details[detail] = None
    return [
        f"{publication}: {_joined(details)}" if details else publication
        for publication, details in found.items()
    ]


def _joined(details: Iterable[str]) -> str:
    """Commas part the details, unless one of them holds a comma itself."""
    details = list(details)
    return ("; " if any("," in detail for detail in details) else ", ").join(details)


def _describe_part(part: str) -> str:
    what, colon, cited = part.rpartition(": ")
    key, comma, rest = cited.partition(",")
    known = sources().get(key)
    if known is None:
        return part
    return f"{what}{colon}{known.publisher}, {known.title}{comma}{rest}"


def require(rows: Iterable[RowT], faults: Sequence[Fault]) -> tuple[RowT, ...]:
    """The rows, or RulebookError with every fault."""
    if faults:
        raise RulebookError(faults)
    return tuple(rows)


def load_rows(path: Path, row_type: type[RowT], rows: str = "row") -> tuple[RowT, ...]:
    """The ``[[row]]`` entries of a file, or those of another name: kept, or read and checked now.

    Raises RulebookError with all faults.
    """
    found: tuple[RowT, ...] = kept(
        tuple[row_type, ...],  # type: ignore[valid-type]
        (path, EDITIONS / "sources.toml", rows.encode()),
        lambda: require(*read_rows(path, row_type, rows)),
    )
    return found


def load_table(name: str, row_type: type[RowT], rows: str = "row") -> tuple[RowT, ...]:
    """As load_rows, of ``editions/tables/<name>.toml``."""
    return load_rows(EDITIONS / "tables" / f"{name}.toml", row_type, rows)
