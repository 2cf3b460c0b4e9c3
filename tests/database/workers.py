"""Workers of the concurrency and kill tests: processes forked from one that has loaded all.

Arguments: what to do, and how many workers. Each prints a line for each thing the database
confirmed; every worker has a connection of its own, opened after the fork.
"""

from __future__ import annotations

import os
import sys
from itertools import count

import django

os.environ["DJANGO_SETTINGS_MODULE"] = "traywise.workbench.settings"
django.setup()

from traywise.errors import RefusedError  # noqa: E402
from traywise.tray.plan import Place  # noqa: E402
from traywise.workbench.accounts.models import Staff  # noqa: E402
from traywise.workbench.day.models import Appointment  # noqa: E402
from traywise.workbench.giving.recording import record_dose  # noqa: E402
from traywise.workbench.shelf.models import Lot  # noqa: E402

LOT = "PK7718"


def place(n: int) -> Place:
    return Place(
        n=n,
        cvx="216",
        vaccine="PCV20",
        name="PCV20",
        lot=LOT,
        presentation="prefilled",
        groups=("PCV",),
        route="IM",
        volume_ml=0.5,
        site="LT",
        site_text="left thigh",
    )


def give(key: str, n: int) -> str:
    lot = Lot.objects.get(lot=LOT)
    visit = Appointment.objects.order_by("pk").first()
    by = Staff.objects.get(username="marlowe")
    try:
        _, wrote = record_dose(visit, place(n), lot, key=key, by=by)
    except RefusedError:
        return f"refused {key}"
    return f"{'wrote' if wrote else 'found'} {key}"


def say(text: str) -> None:
    """One write for one line, so that lines of several workers never mix."""
    os.write(1, f"{text}\n".encode())


def work(what: str, number: int) -> None:
    if what == "last doses":  # each wants many, together far more than there are
        for turn in range(10):
            say(give(f"worker-{number}-{turn}", turn + 1))
    elif what == "one press":  # all press the same
        for turn in range(5):
            say(give(f"press-{turn}", turn + 1))
    else:
        give(f"kill-{number}-first", 1)
        say(f"ready {os.getpid()}")
        for turn in count():
            say(give(f"kill-{number}-{turn}", turn + 1))


def fork(what: str, number: int) -> int:
    child = os.fork()
    if child == 0:
        work(what, number)
        os._exit(0)
    return child


def main(what: str, workers: int) -> None:
    one_by_one = what == "until killed"  # the next begins when the last was killed
    children = []
    for number in range(workers):
        children.append(fork(what, number))
        if one_by_one:
            os.waitpid(children.pop(), 0)
    ends = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
    raise SystemExit(max(ends, default=0))


main(sys.argv[1], int(sys.argv[2]))
