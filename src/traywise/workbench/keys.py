"""Secrets of one clinic: made once, kept beside its data, readable by its owner only."""

from __future__ import annotations

import json
import os
import secrets
from pathlib import Path

FILE_NAME = "keys.json"


def read_or_make_keys(home: Path) -> dict[str, str]:
    """The keys ``secret`` (cookies, forms) and ``chain`` (seals of ledger and audit trail)."""
    path = home / FILE_NAME
    try:
        found: dict[str, str] = json.loads(path.read_text(encoding="utf-8"))
        return found
    except FileNotFoundError:
        home.mkdir(parents=True, exist_ok=True, mode=0o700)
    keys = {"secret": secrets.token_urlsafe(60), "chain": secrets.token_urlsafe(48)}
    # O_EXCL: of two starting processes one makes the file, the other reads it.
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return read_or_make_keys(home)
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        json.dump(keys, file)
    return keys
