"""The numbers of an edition: compiled, or found where an earlier run kept them."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from traywise.rulebook import kept
from traywise.rulebook.edition import edition_names, load_edition
from traywise.schedule import compile as room


@pytest.mark.parametrize("name", [*edition_names(), "us-2025+aap-2026"])
def test_kept_numbers_are_those_compiled(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TRAYWISE_CACHE", str(tmp_path))
    kept._folder.cache_clear()
    try:
        fresh = msgspec.structs.asdict(room.compile_edition(load_edition(name)))
        built, found = room.compiled.__wrapped__(name), room.compiled.__wrapped__(name)
    finally:
        kept._folder.cache_clear()
    for table in (built, found):
        assert {key: getattr(table, key) for key in fresh} == fresh
        rows = [row.key for group in load_edition(name).groups for row in group.rows]
        assert [row.key for _, row in table.row_of] == rows


def test_another_edition_has_other_numbers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRAYWISE_CACHE", str(tmp_path))
    kept._folder.cache_clear()
    try:
        tables = [room.compiled.__wrapped__(name) for name in ("us-2025", "us-2025+aap-2026")]
    finally:
        kept._folder.cache_clear()
    assert tables[0].rows != tables[1].rows
