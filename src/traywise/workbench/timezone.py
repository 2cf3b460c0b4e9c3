"""The machine's own time zone by name, so that the clinic's day is its local day."""

from __future__ import annotations

import os
from pathlib import Path
from zoneinfo import available_timezones


def local_time_zone() -> str:
    """Name of the local zone, or UTC when the machine does not say."""
    names = available_timezones()
    if os.environ.get("TZ") in names:
        return os.environ["TZ"]
    try:
        target = Path("/etc/localtime").resolve(strict=True).as_posix()
    except OSError:
        return "UTC"
    _, _, name = target.partition("zoneinfo/")
    return name if name in names else "UTC"
