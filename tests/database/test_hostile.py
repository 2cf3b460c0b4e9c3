"""What a hostile or broken sender tries, and that it gains and breaks nothing."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from traywise.workbench.audit.models import AuditEntry
from traywise.workbench.children.models import ChildRecord, Import
from traywise.workbench.day.models import Appointment
from traywise.workbench.giving.models import TrayChange
from traywise.workbench.ledger.models import LedgerEntry
from traywise.workbench.shelf.models import Lot, OpenVial, StockEntry
from traywise.workbench.shelf.stock import sum_of_entries

pytestmark = pytest.mark.django_db
PASSWORD = "a long password"
HUGE = "9" * 30


@pytest.fixture
def coordinator(as_role: Callable[[str], Any]) -> Any:
    return as_role("coordinator")


@pytest.fixture
def visit(demo: Any) -> Appointment:
    found: Appointment = demo["Odile Fenwright"]
    return found


def drop(client: Any, content: bytes, name: str = "x.csv") -> Any:
    return client.post("/day/2026-11-24/roster/", {"file": SimpleUploadedFile(name, content)})


class TestAddresses:
    @pytest.mark.parametrize(
        ("path", "status"),
        [
            ("/day/9999-12-31/", 404),
            ("/day/0001-01-01/", 404),
            ("/day/1899-12-31/", 404),
            ("/day/1900-01-01/", 200),
            ("/day/2199-12-31/", 200),
            ("/day/2200-01-01/papers/", 404),
            ("/day/2200-01-01/roster/", 404),
            (f"/child/{HUGE}/", 404),
            (f"/visit/1/reach/{HUGE}/", 404),
            (f"/children/?page={HUGE}", 200),
            (f"/shelf/order/?every={HUGE}&lead=0", 200),
            ("/shelf/receive/?scan=01" + "9" * 5000, 200),
            ("/shelf/receive/?scan=" + "(" * 400, 200),
            ("/children/?q=%00", 400),
            ("/ledger/?lot=a%00b", 400),
            ("/trail/?%00=x", 400),
            ("/admin/", 404),
            ("/static/", 404),
            ("/static/workbench/", 404),
            ("/static/workbench/paper.css", 200),
            ("/.git/config", 404),
            ("/keys.json", 404),
        ],
    )
    def test_no_address_breaks_or_lists(
        self, path: str, status: int, coordinator: Any, demo: Any
    ) -> None:
        assert coordinator.get(path).status_code == status

    @pytest.mark.parametrize(
        "text",
        ["' OR 1=1 --", "%' OR '1'='1", "\\'; DROP TABLE children_childrecord; --", "%", "_"],
    )
    def test_a_search_is_only_a_search(self, text: str, coordinator: Any, demo: Any) -> None:
        """Neither SQL nor the wildcards of LIKE get through."""
        page = coordinator.get("/children/", {"q": text})
        assert page.status_code == 200
        assert list(page.context["page"]) == []
        for path, name in (("/ledger/", "lot"), ("/trail/", "who"), ("/trail/", "child")):
            assert coordinator.get(path, {name: text}).status_code == 200
        assert ChildRecord.objects.exists()


class TestHeaders:
    def test_production_sends_the_whole_set(self, settings: Any, people: Any) -> None:
        settings.SECURE_SSL_REDIRECT, settings.SECURE_HSTS_SECONDS = True, 31536000
        settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
        settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = True
        assert Client().get("/sign-in/").status_code == 301
        client = Client(headers={"X-Forwarded-Proto": "https", "Referer": "https://testserver/"})
        page = client.get("/sign-in/")
        assert "max-age=31536000" in page.headers["Strict-Transport-Security"]
        assert page.headers["X-Frame-Options"] == "DENY"
        assert page.headers["Cross-Origin-Opener-Policy"] == "same-origin"
        client.post("/sign-in/", {"username": "reader", "password": PASSWORD})
        assert client.cookies["traywise"]["secure"]
        assert client.cookies["traywise_form"]["secure"]

    @pytest.mark.parametrize("host", ["evil.example", "localhost.evil.example", "a b"])
    def test_another_host_is_not_answered(self, host: str, settings: Any) -> None:
        settings.ALLOWED_HOSTS = ["localhost"]
        answer = Client().get("/sign-in/", headers={"Host": host})
        assert answer.status_code == 400
        assert host not in answer.content.decode()
        assert "default-src 'none'" in answer.headers["Content-Security-Policy"]

    def test_a_refusal_by_size_carries_them_too(self) -> None:
        answer = Client().generic("POST", "/sign-in/", b"", CONTENT_LENGTH=str(10**9))
        assert answer.status_code == 413
        assert "default-src 'none'" in answer.headers["Content-Security-Policy"]

    def test_a_failure_of_the_program_tells_nothing(
        self, as_role: Callable[[str], Any], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from django.db.models.query import QuerySet

        client = as_role("reader")
        client.raise_request_exception = False
        client.get("/shelf/")

        def fail(*_: Any, **__: Any) -> None:
            raise RuntimeError("secret-of-the-database")

        monkeypatch.setattr(QuerySet, "prefetch_related", fail)
        answer = client.get("/shelf/")
        assert answer.status_code == 500
        text = answer.content.decode()
        assert "secret-of" not in text
        assert "Traceback" not in text
        assert "Something failed on our side" in text


class TestForms:
    def test_every_form_needs_our_token(self, people: Any, demo: Any) -> None:
        """All addresses that take a POST, with a session but without the token."""
        from tests.database.test_roles import ALL, address

        client = Client(enforce_csrf_checks=True)
        client.force_login(people["coordinator"])
        before = (LedgerEntry.objects.count(), StockEntry.objects.count())
        for pattern in ALL:
            assert client.post(address(pattern), {"note": "x"}).status_code == 403, pattern.name
        assert (LedgerEntry.objects.count(), StockEntry.objects.count()) == before

    def test_a_foreign_form_is_not_held_for_a_resting_screen(self, people: Any, demo: Any) -> None:
        """Held, it would be offered after waking with a fresh token: one press from done."""
        client = Client(enforce_csrf_checks=True)
        client.force_login(people["coordinator"])
        session = client.session
        session["rests"] = True
        session.save()
        lot = Lot.objects.first()
        assert lot is not None
        answer = client.post(f"/shelf/lot/{lot.pk}/waste/", {"doses": 1, "note": "x"})
        assert answer.status_code == 403
        assert "held" not in client.session
        assert client.post("//evil.example/x", {"a": "b"}).status_code in (403, 404)
        assert "held" not in client.session

    @pytest.mark.parametrize("password", ["coordinator1", "Carla Coordinator", "carla.coordinator"])
    def test_a_name_is_no_password(self, password: str, coordinator: Any) -> None:
        form = {
            "full_name": "Carla Coordinator",
            "username": "carla.coordinator",
            "role": "reader",
            "is_active": "on",
            "password": password,
        }
        assert b"too similar" in coordinator.post("/staff/new/", form).content

    def test_the_trail_has_no_form_and_refuses_changes(self, coordinator: Any) -> None:
        coordinator.get("/trail/")
        entry = AuditEntry.objects.order_by("number").last()
        assert entry is not None
        for verb in ("post", "put", "patch", "delete"):
            assert getattr(coordinator, verb)("/trail/").status_code == 405
            assert getattr(coordinator, verb)(f"/trail/{entry.pk}/").status_code == 404
        page = coordinator.get("/trail/").content.decode()
        actions = re.findall(r'<form[^>]*method="post"[^>]*action="([^"]+)"', page)
        assert set(actions) <= {"/rest/", "/trail/check/"}

    def test_looks_at_lists_are_in_the_trail(self, coordinator: Any, demo: Any) -> None:
        for path in ("/day/2026-11-24/", "/children/", "/trail/"):
            coordinator.get(path)
        did = set(AuditEntry.objects.values_list("did", flat=True))
        assert {"saw the day 2026-11-24", "saw the list of children", "saw the trail"} <= did

    def test_a_step_taken_back_is_in_the_trail(self, coordinator: Any, visit: Any) -> None:
        coordinator.post(f"/visit/{visit.pk}/step/arrive/")
        coordinator.post(f"/visit/{visit.pk}/step/arrive/", {"back": "1"})
        assert AuditEntry.objects.filter(did="took a step back", detail="has arrived").exists()


class TestStock:
    @pytest.mark.parametrize(
        ("what", "fields"),
        [
            ("waste", {"doses": "-5", "note": "x"}),
            ("waste", {"doses": "1e3", "note": "x"}),
            ("waste", {"doses": "100000", "note": "x"}),
            ("waste", {"doses": HUGE, "note": "x"}),
            ("count", {"found": "-1"}),
            ("count", {"found": HUGE}),
            ("apart", {"why": "x" * 5000}),
            ("close", {"vial": "x"}),
            ("close", {"vial": HUGE}),
            ("close", {}),
            ("nonsense", {}),
        ],
    )
    def test_crafted_movements_move_nothing(
        self, what: str, fields: dict[str, str], coordinator: Any, demo: Any
    ) -> None:
        lot = Lot.objects.filter(doses_left__gt=0).first()
        assert lot is not None
        answer = coordinator.post(f"/shelf/lot/{lot.pk}/{what}/", fields)
        assert answer.status_code in (302, 400, 404)
        before = lot.doses_left
        lot.refresh_from_db()
        assert lot.doses_left == before == sum_of_entries(lot)

    def test_another_lots_vial_is_not_closed(self, coordinator: Any, demo: Any) -> None:
        from django.utils import timezone

        mine, other = Lot.objects.filter(doses_left__gt=2)[:2]
        now = timezone.now()
        vial = OpenVial.objects.create(lot=other, opened_at=now, discard_at=now, doses_left=1)
        fields = {"vial": str(vial.pk)}
        assert coordinator.post(f"/shelf/lot/{mine.pk}/close/", fields).status_code == 404
        vial.refresh_from_db()
        assert vial.closed_at is None

    def test_a_guessed_press_hides_no_other_deed(self, coordinator: Any, demo: Any) -> None:
        one, two = Lot.objects.filter(doses_left__gt=2)[:2]
        for lot in (one, two, two):
            fields = {"doses": "1", "note": "x", "key": "guessed" * 30}
            coordinator.post(f"/shelf/lot/{lot.pk}/waste/", fields)
        for lot in (one, two):
            before = lot.doses_left
            lot.refresh_from_db()
            assert lot.doses_left == before - 1  # each once, and the second press not again

    def test_a_guessed_press_hides_no_correction(
        self, coordinator: Any, people: Any, visit: Any
    ) -> None:
        lot = Lot.objects.filter(doses_left__gt=2).first()
        body = {"on": "2026-11-24", "cvx": "20", "place": 1, "route": "IM", "volume_ml": 0.5}
        entries = [
            LedgerEntry.append(
                key=f"given-{n}",
                kind="given",
                child=visit.child,
                lot=lot,
                by=people["coordinator"],
                body=body,
            )
            for n in (1, 2)
        ]
        for entry in entries:
            fields = {"reason": "not given at all", "key": "the same"}
            coordinator.post(f"/ledger/{entry.pk}/undo/", fields)
        assert all(entry.corrections.count() == 1 for entry in entries)


class TestTray:
    @pytest.mark.parametrize(
        "choice",
        [
            {"needle": "0x0"},
            {"needle": "999x999"},
            {"needle": "²x²"},
            {"needle": "١x٢"},
            {"site": "<b>"},
            {"site": "LG"},
            {"lot": "a|b|c|d|e"},
            {"lot": "||||"},
        ],
        ids=str,
    )
    def test_a_crafted_choice_is_not_kept(
        self, choice: dict[str, str], coordinator: Any, visit: Any
    ) -> None:
        for number in (1, 2, 3):
            coordinator.post(f"/visit/{visit.pk}/change/{number}/", choice)
        assert not TrayChange.objects.exists()

    def test_what_goes_by_mouth_gets_no_limb(self, coordinator: Any, visit: Any) -> None:
        plan = coordinator.get(f"/visit/{visit.pk}/tray/").context["tray"]
        by_mouth = next(place for place in plan.tray if place.site is None)
        for choice in ({"site": "RT"}, {"needle": "25x25"}):
            coordinator.post(f"/visit/{visit.pk}/change/{by_mouth.n}/", choice)
        assert not TrayChange.objects.exists()

    @pytest.mark.parametrize("group", ["x", "<b>", "__class__", "DTaP" * 20])
    def test_only_a_group_of_the_schedule_is_decided(
        self, group: str, coordinator: Any, visit: Any
    ) -> None:
        fields = {"group": group, "value": "give"}
        assert coordinator.post(f"/visit/{visit.pk}/decide/", fields).status_code == 302
        assert not TrayChange.objects.exists()

    def test_one_childs_failure_leaves_the_board_standing(
        self, coordinator: Any, demo: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from traywise.workbench.asking import trays

        real = trays.planned

        def fail_for_one(visit: Any, stock: Any = None) -> Any:
            if visit.child.name == "Mina Oxbow":
                raise KeyError("a fault of the program")
            return real(visit, stock)

        monkeypatch.setattr(trays, "planned", fail_for_one)
        page = coordinator.get("/day/").content.decode()
        assert "Mina Oxbow" in page
        assert "No tray" in page
        assert "Odile Fenwright" in page

    @pytest.mark.parametrize("answer", ["x", "9999-12-31", "-1", "nan", HUGE, "<script>", ",,,"])
    def test_no_answer_breaks_the_tray(self, answer: str, coordinator: Any, demo: Any) -> None:
        for name in ("Juno Harrowgate", "Piet Aldersea"):
            pk = demo[name].pk
            asked = coordinator.get(f"/visit/{pk}/screen/").context["questions"]
            for question in asked[::3]:
                fields = {"key": question.key, "value": answer}
                coordinator.post(f"/visit/{pk}/screen/", fields)
            page = coordinator.get(f"/visit/{pk}/tray/")
            assert page.status_code == 200
            assert "<script>" not in page.content.decode().replace("<script src=", "")
        assert coordinator.get("/day/").status_code == 200


MARKUP = '"><script>alert(1)</script><svg onload=alert(2)>'


class TestMarkup:
    """Stored markup: whatever a person can type is shown as text, on every page and picture."""

    def test_what_is_typed_anywhere_is_shown_as_text(
        self, coordinator: Any, visit: Any, demo: Any
    ) -> None:
        child = visit.child
        record = child.record | {"name": MARKUP, "avoid": [MARKUP]}
        ChildRecord.objects.filter(pk=child.pk).update(
            name=MARKUP, record=record, version=child.version + 1
        )
        lot = Lot.objects.filter(doses_left__gt=0).first()
        assert lot is not None
        Lot.objects.filter(pk=lot.pk).update(unit=MARKUP[:40])
        coordinator.post(f"/shelf/lot/{lot.pk}/apart/", {"why": MARKUP})
        coordinator.post(f"/shelf/lot/{lot.pk}/waste/", {"doses": 1, "note": MARKUP})
        coordinator.post(f"/visit/{visit.pk}/step/arrive/")
        drop(coordinator, f"id,name,born\n{MARKUP},{MARKUP},2024-01-01\n".encode(), MARKUP)
        source = Import.objects.get()
        pages = (
            "/day/",
            f"/child/{child.pk}/",
            f"/child/{child.pk}/edit/",
            f"/visit/{visit.pk}/tray/",
            f"/visit/{visit.pk}/screen/",
            f"/visit/{visit.pk}/reach/2/",
            "/shelf/",
            f"/shelf/lot/{lot.pk}/",
            f"/import/{source.pk}/",
            "/day/2026-11-24/",
            "/day/2026-11-24/roster/",
            "/children/?q=" + "script",
            "/trail/",
            "/ledger/?lot=" + MARKUP,
        )
        for path in pages:
            page = coordinator.get(path)
            assert page.status_code in (200, 404), path
            assert "<script>alert" not in page.content.decode(), path
            assert "<svg onload" not in page.content.decode(), path

    @pytest.mark.parametrize(
        "name",
        [
            '#read("/etc/passwd")',
            "#let x = 1",
            "$ x^2 $",
            "*bold* _it_ `raw`",
            "\\u{202e}abc",
            "<b>",
        ],
    )
    def test_a_name_is_no_code_of_the_paper(self, name: str, coordinator: Any, visit: Any) -> None:
        child = visit.child
        ChildRecord.objects.filter(pk=child.pk).update(
            name=name, record=child.record | {"name": name}, version=child.version + 1
        )
        page = coordinator.get(f"/visit/{visit.pk}/paper/")
        assert page.headers["Content-Type"] == "application/pdf"
        assert b"root:" not in page.content


class TestRosters:
    @pytest.mark.parametrize(
        ("name", "content"),
        [
            ("deep.json", b"[" * 300_000),
            ("deep.json", b'{"a":' * 100_000),
            ("deep.xml", b"<a>" * 100_000),
            ("digits.json", b'[{"id":"z","born":"2024-01-01","weight_kg":' + b"9" * 6000 + b"}]"),
            ("field.csv", b"id,name,born\n" + b"x" * 300_000 + b",n,2024-01-01\n"),
            ("quote.csv", b'id,name,born\n"' + b"x\n" * 100_000),
            ("half.json", b'[{"id":"a\\ud800","name":"n","born":"2024-01-01"}]'),
            ("nul.json", b'[{"id":"a\\u0000","name":"n","born":"2024-01-01"}]'),
            ("zip.csv", b"PK\x03\x04" + b"\0" * 1000),
            ("gzip.json", b"\x1f\x8b\x08" + b"\0" * 1000),
        ],
        ids=lambda value: value if isinstance(value, str) else "",
    )
    def test_no_file_breaks_the_page(self, name: str, content: bytes, coordinator: Any) -> None:
        answer = drop(coordinator, content, name)
        assert answer.status_code in (302, 400)
        if answer.status_code == 302:
            assert coordinator.get(answer.headers["Location"]).status_code == 200
        kept = ChildRecord.objects.values_list("record_id", flat=True)
        assert not any("\0" in record_id for record_id in kept)

    @pytest.mark.parametrize(("count", "taken"), [(20, True), (21, False)])
    def test_a_roster_of_a_day_has_an_end(
        self, count: int, taken: bool, coordinator: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """The limit lowered, so that the test is quick; both sides of it."""
        from traywise.workbench.children import taking_in

        monkeypatch.setattr(taking_in, "MOST_CHILDREN", 20)
        rows = "".join(f"k{n},n,2024-01-01\n" for n in range(count))
        drop(coordinator, f"id,name,born\n{rows}".encode())
        assert ChildRecord.objects.exists() is taken
        faults = Import.objects.get().file_faults
        assert ("workbench.E003" in [code for code, _, _ in faults]) is not taken

    @pytest.mark.parametrize(("letters", "taken"), [(80, True), (81, False)])
    def test_an_id_that_no_column_holds_waits(
        self, letters: int, taken: bool, coordinator: Any
    ) -> None:
        drop(coordinator, f"id,name,born\n{'i' * letters},n,2024-01-01\n".encode())
        assert ChildRecord.objects.exists() is taken
        assert Import.objects.get().rows.count() == 1

    @pytest.mark.parametrize(
        "fields",
        [
            {"cell-2-99999999": "x"},
            {"cell-2-²": "x"},
            {"cell-2-" + "9" * 5000: "x"},
            {"cell-99999-1": "x"},
            {"entry-999": "{}"},
            {"date_order": "zzz"},
        ],
        ids=lambda fields: next(iter(fields))[:16],
    )
    def test_a_crafted_mending_changes_nothing(
        self, fields: dict[str, str], coordinator: Any
    ) -> None:
        drop(coordinator, b"id,name,born\nk1,n,31/02/2024\n")
        source = Import.objects.get()
        assert coordinator.post(f"/import/{source.pk}/", fields).status_code in (302, 400)
        source.refresh_from_db()
        assert source.text == "id,name,born\nk1,n,31/02/2024\n"

    @pytest.mark.parametrize("kind", ["json", "csv"])
    def test_a_crafted_mending_of_entries_changes_nothing(
        self, kind: str, coordinator: Any
    ) -> None:
        content = b'[{"id":"a","born":"x"}]' if kind == "json" else b"id,name,born\na,n,x\n"
        drop(coordinator, content, f"x.{kind}")
        source = Import.objects.get()
        coordinator.post(f"/import/{source.pk}/", {"entry-999": "{}"})
        source.refresh_from_db()
        assert source.text.encode() == content
