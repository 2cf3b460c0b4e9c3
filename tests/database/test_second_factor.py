"""The second factor: set up, asked at sign-in, used once, recovered, reset, locked out."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pyotp
import pytest
from django.test import Client
from tests.workbench_clinic import PREPARE, SETUP, Clinic

from traywise.workbench.accounts import second_factor
from traywise.workbench.accounts.models import RecoveryCode, SecondFactor
from traywise.workbench.audit.models import AuditEntry

pytestmark = pytest.mark.django_db
PASSWORD = "a long password"
PAGE = "/own/second-factor/"


def now_code(secret: str, steps: int = 0) -> str:
    return str(pyotp.TOTP(secret).at(int(time.time()) + 30 * steps))


def set_up(client: Any) -> tuple[str, list[str]]:
    """Through the pages, as a person does; the secret and the recovery codes."""
    client.post(PAGE, {"do": "begin", "current_password": PASSWORD})
    page = client.get(PAGE).content.decode()
    secret = re.search(r'class="secret">(\w+)<', page)
    assert secret is not None
    done = client.post(PAGE, {"do": "confirm", "code": now_code(secret[1], -1)}).content.decode()
    codes = re.findall(r"<li><b>([\w-]+)</b></li>", done)
    assert len(codes) == second_factor.RECOVERY_CODES
    return secret[1], codes


def password_only(client: Any, name: str = "vaccinator", **more: str) -> Any:
    return client.post("/sign-in/", {"username": name, "password": PASSWORD, **more})


@pytest.fixture
def vaccinator(as_role: Callable[[str], Any]) -> tuple[str, list[str]]:
    return set_up(as_role("vaccinator"))


# RFC 6238, appendix B, SHA-1 rows, their last six digits: the library keeps the standard.
@pytest.mark.parametrize(
    ("seconds", "code"),
    [(59, "287082"), (1111111109, "081804"), (1234567890, "005924"), (20000000000, "353130")],
)
def test_codes_are_those_of_the_standard(
    people: Any, seconds: int, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    import base64

    secret = base64.b32encode(b"12345678901234567890").decode()
    monkeypatch.setattr(time, "time", lambda: float(seconds))
    factor = SecondFactor.objects.create(staff=people["vaccinator"], secret=secret)
    assert second_factor.confirm(factor, code)


def test_the_picture_holds_the_secret(people: Any, settings: Any) -> None:
    """Read back by the other direction of the library, from the drawn modules."""
    zxingcpp = pytest.importorskip("zxingcpp")
    settings.CLINIC = "Quay <b>: side"
    factor = second_factor.begin(people["vaccinator"])
    svg = second_factor.picture_of(factor)
    assert "<script" not in svg
    assert "<!DOCTYPE" not in svg
    size = int(re.search(r'viewBox="0 0 (\d+)', svg)[1])  # type: ignore[index]
    rows = [bytearray(b"\xff" * size * 4) for _ in range(size * 4)]
    for x, y, w, h in re.findall(r"M(\d+) (\d+)h(\d+)v(\d+)h-\d+Z", svg):
        for row in range(int(y) * 4, (int(y) + int(h)) * 4):
            rows[row][int(x) * 4 : (int(x) + int(w)) * 4] = bytes(int(w) * 4)
    flat = bytearray(b"".join(rows))
    image = memoryview(flat).cast("B", (size * 4, size * 4))
    read = zxingcpp.read_barcode(image, zxingcpp.BarcodeFormat.QRCode)
    parts = urlsplit(read.text)
    assert (parts.scheme, parts.netloc) == ("otpauth", "totp")
    assert parse_qs(parts.query)["secret"] == [factor.secret]


def test_it_is_optional(people: Any) -> None:
    assert password_only(Client()).headers["Location"] == "/day/"


def test_until_it_is_confirmed_nobody_is_asked(as_role: Callable[[str], Any]) -> None:
    as_role("vaccinator").post(PAGE, {"do": "begin", "current_password": PASSWORD})
    assert password_only(Client()).headers["Location"] == "/day/"


def test_setting_up_asks_for_the_password_and_a_right_code(as_role: Callable[[str], Any]) -> None:
    client = as_role("vaccinator")
    client.post(PAGE, {"do": "begin", "current_password": "wrong"})
    assert not SecondFactor.objects.exists()
    client.post(PAGE, {"do": "begin", "current_password": PASSWORD})
    assert b"not right" in client.post(PAGE, {"do": "confirm", "code": "000000x"}).content
    assert SecondFactor.objects.get().confirmed_at is None


def test_once_on_the_secret_is_shown_no_more(
    as_role: Callable[[str], Any], vaccinator: tuple[str, list[str]]
) -> None:
    secret, codes = vaccinator
    for path in (PAGE, "/own/"):
        page = as_role("vaccinator").get(path).content.decode()
        assert secret not in page
        assert not any(code in page for code in codes)
    told = " ".join(AuditEntry.objects.values_list("detail", flat=True))
    assert secret not in told
    assert not RecoveryCode.objects.filter(digest__in=codes).exists()


def test_the_code_signs_in_and_leads_where_one_wanted(vaccinator: tuple[str, list[str]]) -> None:
    client = Client()
    where = password_only(client, next="/shelf/").headers["Location"]
    assert where == "/sign-in/code/?next=%2Fshelf%2F"
    before = client.session.session_key
    assert client.get("/day/").status_code == 302  # the password alone opens nothing
    done = client.post(where, {"code": now_code(vaccinator[0]), "next": "/shelf/"})
    assert done.headers["Location"] == "/shelf/"
    assert client.get("/day/").status_code == 200
    assert client.session.session_key != before


@pytest.mark.parametrize("elsewhere", ["https://evil.example/", "//evil.example/x"])
def test_nobody_is_led_elsewhere_after_the_code(
    vaccinator: tuple[str, list[str]], elsewhere: str
) -> None:
    client = Client()
    password_only(client)
    done = client.post("/sign-in/code/", {"code": now_code(vaccinator[0]), "next": elsewhere})
    assert done.headers["Location"] == "/day/"


@pytest.mark.parametrize(("steps", "fine"), [(-3, False), (1, True), (3, False)])
def test_a_clock_may_be_half_a_minute_off(
    vaccinator: tuple[str, list[str]], steps: int, fine: bool
) -> None:
    client = Client()
    password_only(client)
    done = client.post("/sign-in/code/", {"code": now_code(vaccinator[0], steps)})
    assert (done.status_code == 302) == fine


def test_a_code_counts_once(vaccinator: tuple[str, list[str]]) -> None:
    code = now_code(vaccinator[0])
    for status in (302, 200):
        client = Client()
        password_only(client)
        assert client.post("/sign-in/code/", {"code": code}).status_code == status


def test_a_recovery_code_counts_once_and_is_read_kindly(vaccinator: tuple[str, list[str]]) -> None:
    code = f" {vaccinator[1][0].upper().replace('-', ' ')} "
    for status in (302, 200):
        client = Client()
        password_only(client)
        assert client.post("/sign-in/code/", {"code": code}).status_code == status
    assert RecoveryCode.objects.filter(used_at=None).count() == second_factor.RECOVERY_CODES - 1


def test_without_a_right_password_there_is_no_code_page(vaccinator: tuple[str, list[str]]) -> None:
    client = Client()
    client.post("/sign-in/", {"username": "vaccinator", "password": "wrong"})
    assert client.get("/sign-in/code/").headers["Location"] == "/sign-in/"
    done = client.post("/sign-in/code/", {"code": now_code(vaccinator[0])})
    assert done.headers["Location"] == "/sign-in/"
    assert client.get("/day/").status_code == 302


@pytest.mark.parametrize("what", ["time", "password", "account"])
def test_a_right_password_waits_only_while_it_holds(
    what: str, people: Any, vaccinator: tuple[str, list[str]]
) -> None:
    client = Client()
    password_only(client)
    person = people["vaccinator"]
    if what == "time":
        session = client.session
        session["awaits_code"] = [*session["awaits_code"][:2], time.time() - 301]
        session.save()
    elif what == "password":
        person.set_password("another long password")
    else:
        person.is_active = False
    person.save()
    done = client.post("/sign-in/code/", {"code": now_code(vaccinator[0])})
    assert done.headers["Location"] == "/sign-in/"


def test_wrong_codes_lock_the_name_and_right_passwords_do_not_unlock_it(
    vaccinator: tuple[str, list[str]],
) -> None:
    client = Client()
    for n in range(5):
        password_only(client)  # a right password between two wrong codes gives no try back
        page = client.post("/sign-in/code/", {"code": "abc"}).content
        assert (b"Too many wrong tries" in page) == (n == 4)
    assert b"Too many" in client.post("/sign-in/code/", {"code": now_code(vaccinator[0])}).content
    assert b"Too many" in password_only(Client()).content
    assert AuditEntry.objects.filter(did="name locked", detail="vaccinator").exists()


def test_right_passwords_alone_never_lock(vaccinator: tuple[str, list[str]]) -> None:
    for _ in range(7):
        assert password_only(Client()).status_code == 302


def test_wrong_passwords_on_the_own_page_count_too(as_role: Callable[[str], Any]) -> None:
    client = as_role("vaccinator")
    for path in ("/own/", PAGE, "/own/", PAGE):
        assert b"not your password" in client.post(path, {"current_password": "wrong"}).content
    assert b"Too many" in client.post(PAGE, {"current_password": "wrong"}).content
    assert b"Too many" in client.post("/own/", {"current_password": PASSWORD}).content


def test_it_is_switched_off_with_the_password(
    as_role: Callable[[str], Any], vaccinator: tuple[str, list[str]]
) -> None:
    client = as_role("vaccinator")
    client.post(PAGE, {"do": "off", "current_password": "wrong"})
    assert SecondFactor.objects.exists()
    client.post(PAGE, {"do": "off", "current_password": PASSWORD})
    assert not SecondFactor.objects.exists()
    assert not RecoveryCode.objects.exists()
    assert AuditEntry.objects.filter(did="switched own second factor off").exists()


def test_new_recovery_codes_replace_the_old(
    as_role: Callable[[str], Any], vaccinator: tuple[str, list[str]]
) -> None:
    as_role("vaccinator").post(PAGE, {"do": "renew", "current_password": PASSWORD})
    client = Client()
    password_only(client)
    assert client.post("/sign-in/code/", {"code": vaccinator[1][0]}).status_code == 200


def test_a_coordinator_resets_a_colleagues_and_only_a_colleagues(
    as_role: Callable[[str], Any], people: Any, vaccinator: tuple[str, list[str]]
) -> None:
    coordinator, path = as_role("coordinator"), "/staff/{}/second-factor/"
    set_up(coordinator)
    coordinator.post(path.format(people["coordinator"].pk))
    assert as_role("reception").post(path.format(people["vaccinator"].pk)).status_code == 403
    assert SecondFactor.objects.count() == 2
    coordinator.post(path.format(people["vaccinator"].pk))
    assert SecondFactor.objects.get().staff == people["coordinator"]
    entry = AuditEntry.objects.get(did="reset a second factor")
    assert (entry.who, entry.detail) == ("coordinator", "vaccinator")
    assert password_only(Client()).headers["Location"] == "/day/"


TWELVE_AT_ONCE = f"""{SETUP}
from threading import Barrier, Thread
from django.db import connection
from traywise.workbench.accounts.models import Attempt
start, taken = Barrier(12), []
def one():
    start.wait()
    taken.append(Attempt.take("marlowe"))
    connection.close()
threads = [Thread(target=one) for _ in range(12)]
[thread.start() for thread in threads]
[thread.join() for thread in threads]
print(taken.count(True), taken.count(False))
"""


@pytest.mark.parametrize("kind", ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def test_tries_sent_side_by_side_get_no_try_more(
    kind: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    database = request.getfixturevalue("postgres").new_database() if kind == "postgresql" else ""
    clinic = Clinic(tmp_path / "home", database)
    clinic.run(PREPARE)
    assert clinic.run(TWELVE_AT_ONCE).strip() == "5 7"
