"""Kept rulebook objects: found again, never old, made again when broken."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from traywise.rulebook import kept as room
from traywise.rulebook import tables
from traywise.rulebook.tables import load_table


class Thing(msgspec.Struct, frozen=True):
    text: str


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    key: str
    text: str
    source: str


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setenv("TRAYWISE_CACHE", str(tmp_path / "cache"))
    room._folder.cache_clear()
    yield tmp_path
    room._folder.cache_clear()


def make(file: Path, builds: list[str]) -> Thing:
    def build() -> Thing:
        builds.append(file.read_text())
        return Thing(file.read_text())

    return room.kept(Thing, (file,), build)


def test_the_second_time_nothing_is_built(folder: Path) -> None:
    file, builds = folder / "rows.toml", []
    file.write_text("one")
    assert make(file, builds) == make(file, builds) == Thing("one")
    assert builds == ["one"]


def test_a_changed_file_is_read_anew(folder: Path) -> None:
    file, builds = folder / "rows.toml", []
    file.write_text("one")
    make(file, builds)
    file.write_text("two")
    assert make(file, builds) == Thing("two")


def test_a_broken_kept_object_is_made_again(folder: Path) -> None:
    file, builds = folder / "rows.toml", []
    file.write_text("one")
    make(file, builds)
    for path in (folder / "cache" / "traywise" / "rulebook").iterdir():
        path.write_bytes(b"\xc1 not an object")
    assert make(file, builds) == Thing("one")
    assert builds == ["one", "one"]


def test_what_cannot_be_built_is_not_kept(folder: Path) -> None:
    file = folder / "rows.toml"
    file.write_text("one")

    def fail() -> Thing:
        raise ValueError("no")

    for _ in range(2):
        with pytest.raises(ValueError, match="no"):
            room.kept(Thing, (file,), fail)


def test_an_empty_setting_keeps_nothing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRAYWISE_CACHE", "")
    room._folder.cache_clear()
    file, builds = folder / "rows.toml", []
    file.write_text("one")
    make(file, builds)
    make(file, builds)
    assert builds == ["one", "one"]


def test_bytes_are_an_input_too(folder: Path) -> None:
    def thing(*inputs: bytes) -> Thing:
        return room.kept(Thing, inputs, lambda: Thing(repr(inputs)))

    assert thing(b"first") == Thing("(b'first',)")
    assert thing(b"last") == Thing("(b'last',)")
    assert thing(b"fi", b"rst") == Thing("(b'fi', b'rst')")


def test_two_lists_of_one_table_are_kept_apart(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "tables").mkdir()
    (folder / "sources.toml").write_text("")
    row = '[[{name}]]\nkey = "{name}"\ntext = "x"\nsource = "common practice"\n'
    content = row.format(name="first") + row.format(name="last")
    (folder / "tables" / "layout.toml").write_text(content)
    monkeypatch.setattr(tables, "EDITIONS", folder)
    for _ in range(2):  # built, then found
        for name in ("first", "last"):
            assert [found.key for found in load_table("layout", Entry, name)] == [name]
