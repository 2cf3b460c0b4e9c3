"""Backs a clinic up into one file, and brings it back.

The file is a gzip tar of Django's own dump of every row, the keys (without which the seals
of ledger and audit trail could not be checked) and a manifest. It holds children's data and
secrets: keep it where such things are kept. Sessions are left out: everybody signs in anew.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import tarfile
import tempfile
import zlib
from pathlib import Path
from typing import Any

from traywise.errors import Fault, InputError

MANIFEST, ROWS, KEYS = "manifest.json", "rows.json", "keys.json"
LEFT_OUT = ["sessions", "contenttypes", "auth.permission"]
LARGEST_BYTES = {MANIFEST: 64 * 1024, KEYS: 64 * 1024, ROWS: 4 * 1024**3}
MOST_PACKED = 200  # rows as text pack to a twentieth or so; what packs more is a trap
SHORTEST_KEY = 32
_CHAINS = ("ledger", "audit")


def back_up(target: Path) -> int:
    """Write the backup; the number of rows. Never overwrites a file."""
    from django.conf import settings
    from django.core.management import call_command
    from django.db import transaction

    rows = io.StringIO()
    with transaction.atomic():  # one moment of the database
        call_command("dumpdata", exclude=LEFT_OUT, stdout=rows, verbosity=0)
    data = rows.getvalue().encode()
    count = len(json.loads(data))
    keys = {"secret": settings.SECRET_KEY, "chain": settings.CHAIN_KEY}
    manifest = {"made_by": "traywise", "rows": count, "sha256": hashlib.sha256(data).hexdigest()}
    _write(target, {MANIFEST: _json(manifest), ROWS: data, KEYS: _json(keys)})
    return count


def _json(value: Any) -> bytes:
    return json.dumps(value, indent=1).encode()


def _write(target: Path, parts: dict[str, bytes]) -> None:
    """Whole or not at all, and for the owner's eyes only."""
    if target.exists():
        raise InputError([Fault("workbench.E030", str(target), "This file exists. Name another.")])
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=".traywise-backup-")
    try:
        with os.fdopen(handle, "wb") as file, tarfile.open(fileobj=file, mode="w:gz") as tar:
            for part, content in parts.items():
                entry = tarfile.TarInfo(part)
                entry.size, entry.mode = len(content), 0o600
                tar.addfile(entry, io.BytesIO(content))
        Path(name).replace(target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def read_backup(source: Path) -> dict[str, bytes]:
    """The parts of a backup, checked; raises InputError for anything else."""
    try:
        parts = _unpacked(source)
        manifest = json.loads(parts[MANIFEST])
        whole = hashlib.sha256(parts[ROWS]).hexdigest() == manifest["sha256"]
        _check_keys(json.loads(parts[KEYS]))
    except _NO_BACKUP as error:
        text = f"This is no backup of the workbench ({type(error).__name__}). Name another file."
        raise InputError([Fault("workbench.E031", str(source), text)]) from None
    if not whole:
        text = "The backup is damaged: its rows do not have the digest written beside them."
        raise InputError([Fault("workbench.E032", str(source), text)])
    return parts


_NO_BACKUP = (
    OSError,
    tarfile.TarError,
    zlib.error,
    KeyError,
    EOFError,
    ValueError,
    TypeError,
    RecursionError,
)


def _unpacked(source: Path) -> dict[str, bytes]:
    """The three parts, none larger than it may be; nothing is unpacked to disk."""
    parts: dict[str, bytes] = {}
    may_be = MOST_PACKED * source.stat().st_size
    with tarfile.open(source, "r:gz") as tar:
        for entry in tar:
            if entry.name not in LARGEST_BYTES or not entry.isreg():
                raise ValueError(f"{entry.name} is no part of a backup")
            if entry.size > min(LARGEST_BYTES[entry.name], may_be):
                raise ValueError(f"{entry.name} is too large")
            file = tar.extractfile(entry)
            parts[entry.name] = file.read() if file else b""
    return parts


def _check_keys(keys: Any) -> None:
    """Two long words: with an empty one every cookie could be forged."""
    for name in ("secret", "chain"):
        if not isinstance(keys[name], str) or len(keys[name]) < SHORTEST_KEY:
            raise ValueError(f"the {name} key is too short")


def put_keys_back(parts: dict[str, bytes], home: Path) -> Path:
    """The keys into a home that has none, before Django reads them."""
    path = home / "keys.json"
    if path.exists():
        text = f"{home} holds a clinic already. Restore into an empty TRAYWISE_HOME."
        raise InputError([Fault("workbench.E033", str(path), text)])
    home.mkdir(parents=True, exist_ok=True, mode=0o700)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(parts[KEYS])
    return path


def restore(parts: dict[str, bytes]) -> int:
    """Rows into an empty, migrated database; checks the seals; the number of rows."""
    from django.core.exceptions import ValidationError
    from django.core.management import call_command
    from django.core.serializers.base import DeserializationError
    from django.db import DatabaseError, transaction

    from traywise.workbench.accounts.models import Staff
    from traywise.workbench.audit.chain import find_break
    from traywise.workbench.audit.models import AuditEntry, ChainHead
    from traywise.workbench.ledger.models import LedgerEntry

    if Staff.objects.exists():
        text = "The database holds a clinic already. Restore into an empty one."
        raise InputError([Fault("workbench.E034", "database", text)])
    with tempfile.TemporaryDirectory() as folder, transaction.atomic():
        rows = Path(folder) / ROWS
        rows.touch(mode=0o600)
        rows.write_bytes(parts[ROWS])
        _check_kinds(parts[ROWS])
        ChainHead.objects.all().delete()  # the heads come with the rows
        try:
            call_command("loaddata", str(rows), verbosity=0)
        except (DeserializationError, DatabaseError, ValidationError, ValueError) as error:
            raise _no_fit(f"The rows do not fit ({type(error).__name__}).") from None
        if set(ChainHead.objects.values_list("name", flat=True)) != set(_CHAINS):
            raise _no_fit("The backup lacks the head of a chain.")
        for name, kind in (("ledger", LedgerEntry), ("audit trail", AuditEntry)):
            broken = find_break(kind)
            if broken is not None:
                text = f"The {name} of this backup does not hold: {broken}. Nothing was restored."
                raise InputError([Fault("workbench.E035", "backup", text)])
    return int(json.loads(parts[MANIFEST])["rows"])


def _check_kinds(rows: bytes) -> None:
    """Only rows of our own models: a backup must bring nobody's session along."""
    from django.apps import apps

    ours = {m._meta.label_lower for m in apps.get_models() if m.__module__.startswith("traywise.")}
    try:
        strange = {str(row["model"]) for row in json.loads(rows)} - ours
    except (ValueError, TypeError, KeyError, RecursionError):
        raise _no_fit("The rows are no list of rows.") from None
    if strange:
        raise _no_fit(f"{min(strange)[:60]} is no part of a backup.")


def _no_fit(text: str) -> InputError:
    return InputError([Fault("workbench.E036", "backup", f"{text} Nothing was restored.")])
