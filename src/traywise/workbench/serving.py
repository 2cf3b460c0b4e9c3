"""Starts the workbench: database, web server, and what it prints."""

from __future__ import annotations

import os
import secrets
import socket
import threading
from collections.abc import Callable
from pathlib import Path

SERVER_THREADS = 8
SETTINGS = "traywise.workbench.settings"


def default_home() -> Path:
    """Where a clinic's data lie unless TRAYWISE_HOME says otherwise."""
    return Path(os.environ.get("TRAYWISE_HOME") or Path.home() / ".local/share/traywise")


def prepare(*, demo: bool = False) -> None:
    """Set Django up and bring the database to this version; ``demo``: a fresh demo clinic."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", SETTINGS)
    if demo:
        _fresh_demo_home()
    if os.environ.get("TRAYWISE_TLS") == "proxy":
        # Behind a proxy everybody can reach the first page: whoever started us has the code.
        os.environ.setdefault("TRAYWISE_FIRST_CODE", secrets.token_hex(8))
    import django
    from django.core.management import call_command

    django.setup()
    _check_needle_policy()
    call_command("migrate", verbosity=0, interactive=False)
    call_command("clearsessions")
    if demo:
        from traywise.workbench.demo.load import load_demo_clinic

        load_demo_clinic()


def _check_needle_policy() -> None:
    """Ends the program, with every fault, when the policy that is set cannot be used: a clinic
    that set another table must not begin its day without one."""
    from traywise.equipment.policy import policy_chain
    from traywise.errors import InputError, format_fault
    from traywise.workbench.asking.needle_policy import clinic_policy

    try:
        policy_chain(clinic_policy())
    except InputError as error:
        shown = "\n".join(format_fault(fault) for fault in error.faults)
        raise SystemExit(f"TRAYWISE_NEEDLE_POLICY cannot be used.\n{shown}") from None


def _fresh_demo_home() -> None:
    """A folder of its own, emptied of the last demo's database, so that no real data is touched."""
    home = default_home() / "demo"
    home.mkdir(parents=True, exist_ok=True, mode=0o700)
    for name in ("demo.sqlite3", "demo.sqlite3-wal", "demo.sqlite3-shm"):
        (home / name).unlink(missing_ok=True)
    os.environ["TRAYWISE_HOME"] = str(home)
    os.environ["TRAYWISE_DATABASE"] = f"sqlite:///{home / 'demo.sqlite3'}"
    os.environ["TRAYWISE_DEMO"] = "1"
    os.environ.setdefault("TRAYWISE_CLINIC", "Quayside clinic (invented)")


def serve(host: str, port: int, say: Callable[[str], None]) -> None:
    """Listen until stopped. Port 0 takes a free one; the address is said."""
    from django.conf import settings
    from waitress.server import create_server

    from traywise.workbench.wsgi import application

    server = create_server(
        application,
        host=host,
        port=port,
        threads=SERVER_THREADS,
        max_request_body_size=settings.UPLOAD_LIMIT_BYTES + 1024 * 1024,
        ident="traywise",
        clear_untrusted_proxy_headers=not settings.BEHIND_TLS,
        **(
            {
                "trusted_proxy": "127.0.0.1",
                "trusted_proxy_headers": "x-forwarded-proto x-forwarded-for",
            }
            if settings.BEHIND_TLS
            else {}
        ),
    )
    bound = getattr(server, "effective_port", None) or port
    say(f"The workbench is open at http://{_shown(host)}:{bound}/  (stop with Ctrl+C)")
    if settings.FIRST_CODE:
        say(f"Code for the first account: {settings.FIRST_CODE}")
    threading.Thread(target=_compose_today, daemon=True).start()
    server.run()


def _compose_today() -> None:
    """Today's trays before the first person asks: the rooms below load their tables once."""
    from django.db import connection
    from django.utils import timezone

    from traywise.errors import TraywiseError
    from traywise.workbench.asking.trays import stock_now
    from traywise.workbench.day.board import build_board

    try:
        build_board(timezone.localdate(), stock_now())
    except TraywiseError:
        return  # the page itself says what is wrong
    finally:
        connection.close()


def _shown(host: str) -> str:
    return socket.gethostname() if host in ("0.0.0.0", "::") else host  # noqa: S104 - shown only
