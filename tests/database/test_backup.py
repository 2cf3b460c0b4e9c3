"""A backup brings everything back, on either database, and a damaged one brings nothing."""

from __future__ import annotations

import hashlib
import io
import json
import subprocess
import sys
import tarfile
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.workbench_clinic import SETUP, Clinic, copy_of

from traywise.errors import InputError

GIVE = """
from traywise.workbench.accounts.models import Staff
from traywise.workbench.children.models import ChildRecord
from traywise.workbench.ledger.models import LedgerEntry
from traywise.workbench.audit.models import AuditEntry
by = Staff.objects.first()
child = ChildRecord.objects.first()
body = {"volume_ml": 0.5, "lot": "Ä1"}
LedgerEntry.append(key="one", kind="given", child=child, by=by, body=body)
AuditEntry.append(who="marlowe", did="gave a dose", child=child.record_id)
"""
COUNT = f"""{SETUP}
from django.apps import apps
from traywise.workbench.audit.chain import find_break
from traywise.workbench.audit.models import AuditEntry
from traywise.workbench.ledger.models import LedgerEntry
for model in sorted(apps.get_models(), key=lambda m: m._meta.label):
    if model._meta.app_label not in ("sessions", "contenttypes", "auth"):
        print(model._meta.label, model.objects.count())
print(find_break(LedgerEntry), find_break(AuditEntry))
"""


def command(clinic: Clinic, *words: str) -> subprocess.CompletedProcess[str]:
    code = f"from traywise.cli.workbench import workbench; workbench({list(words)!r})"
    return subprocess.run(
        [sys.executable, "-c", code], env=clinic.env, capture_output=True, text=True, check=False
    )


@pytest.fixture(scope="module")
def saved(
    tmp_path_factory: pytest.TempPathFactory,
    ready_clinics: Callable[[str], tuple[Clinic, str]],
) -> tuple[Clinic, Path]:
    folder = tmp_path_factory.mktemp("backup")
    clinic = copy_of(ready_clinics("sqlite")[0], folder / "home")
    clinic.run(SETUP + GIVE)
    file = folder / "clinic.tar.gz"
    done = command(clinic, "backup", str(file))
    assert done.returncode == 0, done.stderr
    return clinic, file


@pytest.mark.parametrize("kind", ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def test_all_rows_and_seals_come_back(
    kind: str, saved: tuple[Clinic, Path], tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    clinic, file = saved
    database = request.getfixturevalue("postgres").new_database() if kind == "postgresql" else ""
    other = Clinic(tmp_path / "other", database)
    done = command(other, "restore", str(file))
    assert done.returncode == 0, done.stderr
    assert other.run(COUNT) == clinic.run(COUNT)
    assert other.run(COUNT).endswith("None None\n")
    # New rows find free numbers after a restore.
    other.run(SETUP + GIVE.replace('key="one"', 'key="two"'))


def test_a_backup_is_for_its_owner_only_and_overwrites_nothing(saved: tuple[Clinic, Path]) -> None:
    clinic, file = saved
    assert file.stat().st_mode & 0o077 == 0
    before = file.read_bytes()
    done = command(clinic, "backup", str(file))
    assert (done.returncode, "workbench.E030" in done.stderr) == (1, True)
    assert file.read_bytes() == before


def test_nothing_is_restored_over_a_clinic(saved: tuple[Clinic, Path]) -> None:
    clinic, file = saved
    done = command(clinic, "restore", str(file))
    assert (done.returncode, "workbench.E033" in done.stderr) == (1, True)


def test_a_file_that_is_no_backup_is_refused(saved: tuple[Clinic, Path], tmp_path: Path) -> None:
    file = tmp_path / "x.tar.gz"
    file.write_bytes(b"not a backup")
    done = command(Clinic(tmp_path / "home"), "restore", str(file))
    assert (done.returncode, "workbench.E031" in done.stderr) == (1, True)
    assert "Traceback" not in done.stderr


def test_a_backup_with_changed_rows_is_refused(saved: tuple[Clinic, Path], tmp_path: Path) -> None:
    _, file = saved
    changed = tmp_path / "changed.tar.gz"
    with tarfile.open(file) as old, tarfile.open(changed, "w:gz") as new:
        for entry in old:
            content = old.extractfile(entry).read()  # type: ignore[union-attr]
            (tmp_path / entry.name).write_bytes(content.replace(b"marlowe", b"mallory"))
            new.add(tmp_path / entry.name, entry.name)
    done = command(Clinic(tmp_path / "home"), "restore", str(changed))
    assert (done.returncode, "workbench.E032" in done.stderr) == (1, True)


KEYS = {"secret": "s" * 60, "chain": "c" * 48}
SESSION = {"model": "sessions.session", "pk": "x" * 32, "fields": {"session_data": "x"}}
STAFF = {"model": "accounts.staff", "pk": 1, "fields": {"username": "m", "role": "coordinator"}}


def crafted(path: Path, **parts: bytes) -> Path:
    """A backup as somebody would forge it: the digest fits, the rest is theirs."""
    rows = parts.get("rows", b"[]")
    manifest = {"made_by": "x", "rows": 0, "sha256": hashlib.sha256(rows).hexdigest()}
    inside = {
        "manifest.json": json.dumps(manifest).encode(),
        "rows.json": rows,
        "keys.json": parts.get("keys", json.dumps(KEYS).encode()),
    }
    if "more" in parts:
        inside["../../outside"] = parts["more"]
    with tarfile.open(path, "w:gz") as tar:
        for name, content in inside.items():
            entry = tarfile.TarInfo(name)
            entry.size = len(content)
            tar.addfile(entry, io.BytesIO(content))
    return path


@pytest.mark.parametrize(
    ("parts", "code"),
    [
        ({"rows": b" " * 50_000_000}, "E031"),  # packs a thousandfold
        ({"keys": b'{"secret": "", "chain": ""}'}, "E031"),
        ({"keys": b'["secret", "chain"]'}, "E031"),
        ({"keys": b"[" * 60_000}, "E031"),
        ({"more": b"x"}, "E031"),
    ],
    ids=["bomb", "empty keys", "no keys", "deep keys", "outside"],
)
def test_a_trap_is_refused_before_anything_is_touched(
    parts: dict[str, bytes], code: str, tmp_path: Path
) -> None:
    file = crafted(tmp_path / "trap.tar.gz", **parts)
    done = command(Clinic(tmp_path / "deep" / "home"), "restore", str(file))
    assert (done.returncode, f"workbench.{code}" in done.stderr) == (1, True), done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "deep").exists()
    assert not (tmp_path / "outside").exists()


@pytest.mark.parametrize(
    "rows",
    [
        [SESSION],
        [{"model": "auth.group", "pk": 1, "fields": {"name": "x"}}],
        [{"model": "audit.chainhead", "pk": "audit", "fields": {"number": "x"}}],
        [STAFF],  # and no head of a chain
        [{"model": "no.such", "pk": 1, "fields": {}}],
        {"model": "x"},
        [1],
    ],
    ids=str,
)
@pytest.mark.django_db
def test_rows_that_do_not_belong_restore_nothing(rows: object) -> None:
    from traywise.workbench.accounts.models import Staff
    from traywise.workbench.backup import restore

    parts = {"manifest.json": b'{"rows": 1}', "rows.json": json.dumps(rows).encode()}
    with pytest.raises(InputError) as refused:
        restore(parts)
    assert [fault.code for fault in refused.value.faults] == ["workbench.E036"]
    assert not Staff.objects.exists()


def test_after_a_refusal_the_folder_is_free_for_the_right_file(
    tmp_path: Path, saved: tuple[Clinic, Path]
) -> None:
    file = crafted(tmp_path / "forged.tar.gz", rows=json.dumps([SESSION]).encode())
    clinic = Clinic(tmp_path / "home")
    done = command(clinic, "restore", str(file))
    assert (done.returncode, "workbench.E036" in done.stderr) == (1, True), done.stderr
    assert "Traceback" not in done.stderr
    assert command(clinic, "restore", str(saved[1])).returncode == 0
