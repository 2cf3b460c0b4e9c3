"""The ledger and the trail are appended to, never edited, and show tampering."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction

from traywise.record.child import Child
from traywise.workbench.audit.chain import EditingError, find_break
from traywise.workbench.audit.models import AuditEntry, ChainHead
from traywise.workbench.children.models import new_child
from traywise.workbench.ledger.effects import doses_given_here, standing_doses
from traywise.workbench.ledger.models import CORRECTED, GIVEN, LedgerEntry

pytestmark = pytest.mark.django_db


@pytest.fixture
def child() -> Any:
    return new_child(Child(id="c1", name="Invented Child", born=date(2026, 1, 5)))


def give(child: Any, by: Any, key: str, **body: Any) -> LedgerEntry:
    fields = {"on": "2026-11-24", "cvx": "110", "lot": "HB5512", "site": "LT", "volume_ml": 0.5}
    return LedgerEntry.append(key=key, kind=GIVEN, child=child, by=by, body=fields | body)


def trail(count: int) -> list[AuditEntry]:
    return [AuditEntry.append(who="marlowe", did=f"deed {n}") for n in range(count)]


def test_an_entry_cannot_be_saved_again_or_deleted(child: Any, people: Any) -> None:
    entry = give(child, people["vaccinator"], "one")
    entry.body = {"lot": "OTHER"}
    with pytest.raises(EditingError):
        entry.save()
    with pytest.raises(EditingError):
        entry.delete()


@pytest.mark.parametrize("verb", ["update", "delete"])
@pytest.mark.parametrize("which", ["ledger", "trail", "stock", "answers"])
def test_the_database_itself_refuses(which: str, verb: str, child: Any, people: Any) -> None:
    from traywise.workbench.day.models import Appointment
    from traywise.workbench.giving.models import ScreeningAnswer
    from traywise.workbench.shelf.models import Lot, StockEntry
    from traywise.workbench.shelf.stock import move

    by = people["vaccinator"]
    if which == "ledger":
        give(child, by, "one")
    elif which == "trail":
        trail(1)
    elif which == "stock":
        lot = Lot.objects.create(
            lot="L1", cvx="110", presentation="prefilled", expires=date(2027, 1, 1)
        )
        move(lot, 5, StockEntry.RECEIVED, by=by, key="k")
    else:
        visit = Appointment.objects.create(child=child, day=date(2026, 11, 24))
        ScreeningAnswer.objects.create(visit=visit, question="q", text="t", answer="no", by=by)
    model, field = {
        "ledger": (LedgerEntry, "kind"),
        "trail": (AuditEntry, "did"),
        "stock": (StockEntry, "note"),
        "answers": (ScreeningAnswer, "answer"),
    }[which]
    rows = model.objects.all()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        change_behind_our_back(rows, verb, field)
    assert rows.count() == 1


def change_behind_our_back(rows: Any, verb: str, field: str) -> None:
    """Past the models' own guard, straight at the table."""
    if verb == "update":
        rows.update(**{field: "forged"})
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {rows.model._meta.db_table}")  # noqa: S608


def test_an_untouched_chain_holds(child: Any, people: Any) -> None:
    for number in range(5):
        give(child, people["vaccinator"], f"key {number}")
    trail(5)
    assert find_break(LedgerEntry) is None
    assert find_break(AuditEntry) is None


def unlock(table: str) -> None:
    """What somebody with the database's own tools would do first."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(f"DROP TRIGGER {table}_append_only ON {table}")
        else:
            cursor.execute(f"DROP TRIGGER {table}_no_update")
            cursor.execute(f"DROP TRIGGER {table}_no_delete")


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ("UPDATE audit_auditentry SET did = 'nothing' WHERE number = 3", "entry 3 was changed"),
        ("UPDATE audit_auditentry SET child = 'other' WHERE number = 1", "entry 1 was changed"),
        ("DELETE FROM audit_auditentry WHERE number = 3", "entry 3 is missing"),
        ("DELETE FROM audit_auditentry WHERE number > 3", "entries after 3 are missing"),
        ("UPDATE audit_auditentry SET seal = before WHERE number = 2", "entry 2 was changed"),
    ],
)
def test_tampering_shows_where_it_was_done(what: str, said: str) -> None:
    trail(5)
    unlock("audit_auditentry")
    with connection.cursor() as cursor:
        cursor.execute(what)
    found = find_break(AuditEntry)
    assert found is not None
    assert said in found


def test_a_seal_computed_without_the_key_does_not_pass(settings: Any) -> None:
    trail(2)
    unlock("audit_auditentry")
    entry = AuditEntry.objects.get(number=2)
    entry.did = "nothing"
    settings.CHAIN_KEY = "a guess"
    forged = entry.compute_seal()
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE audit_auditentry SET did = 'nothing', seal = %s WHERE number = 2", [forged]
        )
    ChainHead.objects.filter(name="audit").update(seal=forged)
    settings.CHAIN_KEY = __import__("traywise.workbench.settings", fromlist=["x"]).CHAIN_KEY
    assert find_break(AuditEntry) == "entry 2 was changed after it was written"


def test_a_correction_changes_what_stands_and_keeps_what_was_written(
    child: Any, people: Any
) -> None:
    by = people["vaccinator"]
    first = give(child, by, "one")
    LedgerEntry.append(
        key="two",
        kind=CORRECTED,
        child=child,
        by=by,
        corrects=first,
        body={"fields": {"lot": "HB9999", "site": "RT"}, "reason": "read from the box"},
    )
    (dose,) = standing_doses(LedgerEntry.objects.all())
    assert (dose.body["lot"], dose.body["site"]) == ("HB9999", "RT")
    assert LedgerEntry.objects.get(key="one").body["lot"] == "HB5512"
    assert doses_given_here(LedgerEntry.objects.all())[0].lot == "HB9999"


def test_an_undone_dose_is_no_part_of_the_history(child: Any, people: Any) -> None:
    by = people["vaccinator"]
    first = give(child, by, "one")
    give(child, by, "two", cvx="216")
    LedgerEntry.append(
        key="three", kind=CORRECTED, child=child, by=by, corrects=first, body={"undone": True}
    )
    assert [dose.cvx for dose in doses_given_here(LedgerEntry.objects.all())] == ["216"]
