"""Sign-in, lock-out, sessions that rest, the first account, forms that are not ours."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from traywise.workbench.accounts.models import Attempt, Staff
from traywise.workbench.audit.models import AuditEntry

pytestmark = pytest.mark.django_db
PASSWORD = "a long password"


def sign_in(client: Client, name: str, password: str, **more: str) -> Any:
    return client.post("/sign-in/", {"username": name, "password": password, **more})


def test_the_first_page_makes_the_first_account_and_then_is_gone(db: None) -> None:
    client = Client()
    assert client.get("/sign-in/").headers["Location"] == "/first/"
    form = {"full_name": "A. First", "username": "first", "password": "ten letters or more"}
    response = client.post("/first/", form)
    assert response.headers["Location"] == "/day/"
    assert Staff.objects.get().role == "coordinator"
    assert client.get("/day/").status_code == 200
    assert Client().get("/first/").headers["Location"] == "/sign-in/"
    assert Client().post("/first/", form | {"username": "second"}).status_code == 302
    assert Staff.objects.count() == 1


def test_a_first_account_needs_the_code_where_one_is_set(settings: Any) -> None:
    settings.FIRST_CODE = "c0de"
    form = {"full_name": "A. First", "username": "first", "password": "ten letters or more"}
    assert Client().post("/first/", form | {"code": "wrong"}).status_code == 200
    assert not Staff.objects.exists()
    assert Client().post("/first/", form | {"code": "c0de"}).status_code == 302


@pytest.mark.parametrize("password", ["short", "1234567890123", "password123"])
def test_weak_passwords_make_no_account(password: str) -> None:
    form = {"full_name": "A. First", "username": "first", "password": password}
    Client().post("/first/", form)
    assert not Staff.objects.exists()


def test_a_right_password_signs_in_and_goes_where_one_wanted(people: Any) -> None:
    client = Client()
    where = client.get("/shelf/").headers["Location"]
    assert where == "/sign-in/?next=%2Fshelf%2F"
    assert sign_in(client, "reader", PASSWORD, next="/shelf/").headers["Location"] == "/shelf/"


@pytest.mark.parametrize(
    "elsewhere", ["https://evil.example/", "//evil.example/x", "javascript:alert(1)", "\\\\evil"]
)
def test_nobody_is_led_elsewhere_after_sign_in(people: Any, elsewhere: str) -> None:
    response = sign_in(Client(), "reader", PASSWORD, next=elsewhere)
    assert response.headers["Location"] == "/day/"


def test_the_session_is_a_new_one_after_sign_in(people: Any) -> None:
    """Session fixation: a key that was known before is worth nothing after."""
    client = Client()
    client.get("/sign-in/")
    session = client.session
    session["planted"] = True
    session.save()
    before = session.session_key
    client.cookies["traywise"] = before
    sign_in(client, "reader", PASSWORD)
    assert client.session.session_key != before
    thief = Client()
    thief.cookies["traywise"] = before
    assert thief.get("/day/").status_code == 302


@pytest.mark.parametrize("name", ["vaccinator", "nobody-of-this-name"])
def test_five_wrong_tries_lock_the_name_whether_it_exists_or_not(people: Any, name: str) -> None:
    client = Client()
    answers = [sign_in(client, name, "wrong").content for _ in range(5)]
    assert b"not right" in answers[3]
    assert b"Too many wrong tries" in answers[4]
    if name == "vaccinator":
        assert b"Too many wrong tries" in sign_in(client, name.upper(), PASSWORD).content
    assert AuditEntry.objects.filter(did="name locked", detail=name).exists()


def test_four_wrong_tries_do_not_lock(people: Any) -> None:
    client = Client()
    for _ in range(4):
        sign_in(client, "vaccinator", "wrong")
    assert sign_in(client, "vaccinator", PASSWORD).status_code == 302
    assert not Attempt.objects.exists()


def test_the_lock_ends_by_time_or_by_the_coordinator(
    people: Any, as_role: Callable[[str], Any]
) -> None:
    for _ in range(5):
        sign_in(Client(), "vaccinator", "wrong")
    Attempt.objects.update(locked_until=timezone.now() - timedelta(seconds=1))
    assert sign_in(Client(), "vaccinator", PASSWORD).status_code == 302
    for _ in range(5):
        sign_in(Client(), "vaccinator", "wrong")
    person = people["vaccinator"]
    form = {"full_name": "V", "username": "vaccinator", "role": "vaccinator", "is_active": "on"}
    as_role("coordinator").post(f"/staff/{person.pk}/", form)
    assert sign_in(Client(), "vaccinator", PASSWORD).status_code == 302


@pytest.mark.parametrize("name", ["reader", "nobody-of-this-name", "gone"])
def test_an_unknown_name_takes_as_long_as_a_known_one(
    name: str, people: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The password is hashed once, whoever is named: nothing to be learnt from a clock."""
    from django.contrib.auth.hashers import MD5PasswordHasher

    Staff.objects.create_user("gone", PASSWORD, full_name="g", role="reader", is_active=False)
    hashed, real = [], MD5PasswordHasher.encode

    def count(self: Any, password: str, salt: str, **more: Any) -> str:
        hashed.append(password)
        return str(real(self, password, salt, **more))

    monkeypatch.setattr(MD5PasswordHasher, "encode", count)
    sign_in(Client(), name, "wrong")
    assert hashed == ["wrong"]


def test_an_account_that_may_not_sign_in_does_not(people: Any) -> None:
    Staff.objects.filter(username="reader").update(is_active=False)
    assert sign_in(Client(), "reader", PASSWORD).status_code == 200


def test_a_form_without_our_token_does_nothing(people: Any) -> None:
    client = Client(enforce_csrf_checks=True)
    assert sign_in(client, "reader", PASSWORD).status_code == 403
    page = client.get("/sign-in/").content.decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
    assert token is not None
    done = sign_in(client, "reader", PASSWORD, csrfmiddlewaretoken=token[1])
    assert done.status_code == 302
    assert client.post("/rest/").status_code == 403


class TestResting:
    def idle(self, client: Any, settings: Any) -> None:
        client.get("/day/")
        session = client.session
        session["last_touch"] = time.time() - settings.REST_MINUTES * 60 - 1
        session.save()

    def test_an_idle_screen_shows_nothing_until_woken(
        self, as_role: Callable[[str], Any], settings: Any
    ) -> None:
        client = as_role("vaccinator")
        self.idle(client, settings)
        assert client.get("/shelf/").headers["Location"] == "/wake/?next=%2Fshelf%2F"
        assert b"Resting for vaccinator" in client.get("/wake/").content
        assert b"not right" in client.post("/wake/", {"word": "wrong"}).content
        woken = client.post("/wake/", {"word": PASSWORD, "next": "/shelf/"})
        assert woken.headers["Location"] == "/shelf/"
        assert client.get("/shelf/").status_code == 200

    def test_just_before_the_time_it_stays_awake(
        self, as_role: Callable[[str], Any], settings: Any
    ) -> None:
        client = as_role("vaccinator")
        client.get("/day/")
        session = client.session
        session["last_touch"] = time.time() - settings.REST_MINUTES * 60 + 5
        session.save()
        assert client.get("/shelf/").status_code == 200

    def test_a_pin_wakes_and_never_signs_in(
        self, as_role: Callable[[str], Any], people: Any, settings: Any
    ) -> None:
        client = as_role("vaccinator")
        client.post("/own/", {"current_password": PASSWORD, "new_pin": "4711"})
        client.post("/rest/")
        assert client.post("/wake/", {"word": "4711"}).status_code == 302
        assert sign_in(Client(), "vaccinator", "4711").status_code == 200

    def test_what_was_sent_from_a_resting_screen_is_offered_again(
        self, as_role: Callable[[str], Any], demo: Any, settings: Any
    ) -> None:
        client = as_role("vaccinator")
        visit = demo["Odile Fenwright"]
        self.idle(client, settings)
        path = f"/visit/{visit.pk}/step/arrive/"
        assert client.post(path, {"remark": "by <tram>"}).headers["Location"] == "/wake/"
        visit.refresh_from_db()
        assert visit.arrived_at is None
        held = client.post("/wake/", {"word": PASSWORD}).content.decode()
        assert f'action="{path}"' in held
        assert 'name="remark" value="by &lt;tram&gt;"' in held

    def test_polling_does_not_keep_a_screen_awake(
        self, as_role: Callable[[str], Any], settings: Any, demo: Any
    ) -> None:
        client = as_role("vaccinator")
        client.get("/day/")
        session = client.session
        session["last_touch"] = time.time() - settings.REST_MINUTES * 60 + 60
        session.save()
        before = session["last_touch"]
        client.get("/day/2026-11-24/board/?stamp=x", headers={"HX-Request": "true"})
        assert client.session["last_touch"] == before
        client.get("/day/")
        assert client.session["last_touch"] > before


def test_a_coordinator_cannot_lock_themselves_out(
    as_role: Callable[[str], Any], people: Any
) -> None:
    me = people["coordinator"]
    form = {"full_name": "C", "username": "coordinator", "role": "reader", "is_active": "on"}
    assert as_role("coordinator").post(f"/staff/{me.pk}/", form).status_code == 200
    me.refresh_from_db()
    assert me.role == "coordinator"
