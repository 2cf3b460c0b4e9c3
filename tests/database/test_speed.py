"""How much work a page of the busy day is: counted, not timed, so that it holds everywhere."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.test.utils import CaptureQueriesContext

from traywise.workbench.asking.trays import stock_now, tray_stamp
from traywise.workbench.audit.models import AuditEntry
from traywise.workbench.children.models import ChildRecord
from traywise.workbench.day.models import Appointment
from traywise.workbench.giving.models import LaidTray, ScreeningAnswer, TrayChange
from traywise.workbench.ledger.models import LedgerEntry
from traywise.workbench.shelf.models import Lot, Supply

pytestmark = pytest.mark.django_db


def queries(client: Any, path: str) -> list[str]:
    from django.db import connection

    with CaptureQueriesContext(connection) as found:
        assert client.get(path).status_code in (200, 204)
    return [query["sql"] for query in found.captured_queries]


@pytest.mark.parametrize(
    ("path", "most"),
    [
        # session, person, day, shelf
        ("/day/", 4),
        # session, person, visit with child, stamp of the visit, stamp of the shelf
        ("/visit/{}/tray/", 5),
    ],
)
def test_a_page_that_is_drawn_already_asks_little(
    path: str, most: int, as_role: Callable[[str], Any], demo: Any
) -> None:
    client, path = as_role("vaccinator"), path.format(demo["Odile Fenwright"].pk)
    client.get(path)
    found = queries(client, path)
    assert len(found) <= most, found
    other = as_role("vaccinator")
    other.get(path)
    assert len(queries(other, path)) <= most


def test_a_screen_that_asks_again_asks_little(as_role: Callable[[str], Any], demo: Any) -> None:
    """Every screen asks every three seconds: the answer "nothing new" is four short queries."""
    import re

    client = as_role("reader")
    for _ in range(2):  # a minute may just have ended
        page = client.get("/day/").content.decode()
        path = re.search(r'hx-get="([^"]+stamp=\w+)"', page)
        assert path is not None
        answer = client.get(path[1])
        if answer.status_code == 204:
            break
    assert (answer.status_code, answer.content) == (204, b"")
    assert len(queries(client, path[1])) <= 4


def test_one_child_more_is_no_query_more(as_role: Callable[[str], Any], demo: Any) -> None:
    """The board drawn anew, with five children and with ten."""
    from traywise.workbench.frame.drawn import forget_drawn

    client = as_role("reader")
    gone = list(Appointment.objects.order_by("pk")[:3].values_list("pk", flat=True))
    counts = []
    for _ in range(2):
        client.get("/day/")  # the trays are composed
        forget_drawn()
        counts.append(len(queries(client, "/day/")))
        Appointment.objects.filter(pk__in=gone).delete()
    assert counts[0] == counts[1] <= 16


def test_fifty_people_with_ten_children_are_written_down_once_each(
    as_role: Callable[[str], Any], people: Any
) -> None:
    """More than 300 looks: Django's own limit made each of them a write, again and again."""
    from django.test import RequestFactory

    from traywise.workbench.audit.seen import note_seen

    request = RequestFactory().get("/")
    request.user = people["reader"]
    for _ in range(2):
        for n in range(400):
            note_seen(request, "the tray", f"child {n}")
    assert AuditEntry.objects.filter(did="saw the tray").count() == 400


def _record(visit: Any, by: Any) -> None:
    child = visit.child.read()
    assert visit.child.keep(child)


def _answer(visit: Any, by: Any) -> None:
    ScreeningAnswer.objects.create(visit=visit, question="x", text="x", answer="no", by=by)


def _change(visit: Any, by: Any) -> None:
    TrayChange.objects.create(visit=visit, group="IPV", what="site", value="RT", by=by)


def _lay(visit: Any, by: Any) -> None:
    LaidTray.objects.create(visit=visit, tray={}, edition="x", by=by)


def _write(visit: Any, by: Any) -> None:
    LedgerEntry.append(key="x", kind="reaction", child=visit.child, visit=visit, by=by, body={})


def _time(visit: Any, by: Any) -> None:
    Appointment.objects.filter(pk=visit.pk).update(time="23:59")


def _lot(visit: Any, by: Any) -> None:
    Lot.objects.filter(doses_left__gt=0).update(doses_left=0)


def _apart(visit: Any, by: Any) -> None:
    lot = Lot.objects.filter(doses_left__gt=0).first()
    assert lot is not None
    lot.quarantined = "x"
    lot.save()


def _supply(visit: Any, by: Any) -> None:
    for supply in Supply.objects.all():
        supply.count = 0
        supply.save()


@pytest.mark.parametrize(
    "happens",
    [_record, _answer, _change, _lay, _write, _time, _lot, _apart, _supply],
    ids=lambda happens: happens.__name__[1:],
)
def test_whatever_changes_a_tray_changes_its_stamp(happens: Any, demo: Any, people: Any) -> None:
    pk = demo["Odile Fenwright"].pk

    def stamp() -> str:
        visit = Appointment.objects.select_related("child").get(pk=pk)
        return tray_stamp(visit, stock_now())

    before = stamp()
    assert stamp() == before
    happens(Appointment.objects.select_related("child").get(pk=pk), people["vaccinator"])
    assert stamp() != before


def test_each_person_gets_their_own_token_and_rights(
    as_role: Callable[[str], Any], demo: Any, people: Any
) -> None:
    """What is drawn once for all must hold nothing of the one it was drawn for."""
    import re

    path = f"/visit/{demo['Ravi Kestrel'].pk}/tray/"
    tokens = []
    for role in ("vaccinator", "coordinator", "reader"):
        client = Client(enforce_csrf_checks=True)
        client.force_login(people[role])
        page = client.get(path).content.decode()
        found = set(re.findall(r'csrfmiddlewaretoken" value="(\w+)"', page))
        assert "token-of-the-form" not in page
        assert len(found) == 1  # one page, one token
        tokens += found
        changes = "/change/" in page
        assert changes == (role != "reader")
    assert len(set(tokens)) == 3
    assert ChildRecord.objects.exists()
