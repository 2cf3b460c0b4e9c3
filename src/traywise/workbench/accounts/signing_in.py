"""Checks name, password and second factor, with lock-out; the same words whatever was wrong."""

from __future__ import annotations

import time

from django.contrib.auth import authenticate, login
from django.http import HttpRequest

from traywise.workbench.accounts import second_factor
from traywise.workbench.accounts.models import Attempt, Staff
from traywise.workbench.accounts.resting import LAST, RESTS
from traywise.workbench.audit.models import note

WRONG = "Name or password is not right."
LOCKED = (
    "Too many wrong tries with this name. Wait a quarter of an hour, "
    "or ask your coordinator to unlock it."
)
AWAITED = "awaits_code"
CODE_WITHIN_SECONDS = 5 * 60


def try_sign_in(request: HttpRequest, name: str, password: str) -> str:
    """Signs in, or waits for the code, and returns ""; else what to tell the person."""
    if not Attempt.take(name):
        note(request, "tried a locked name", detail=name)
        return LOCKED
    staff = authenticate(request, username=name, password=password)
    if staff is None:
        return _wrong(request, name, "wrong password", WRONG)
    if second_factor.is_on(staff):
        Attempt.give_back(name)
        request.session.cycle_key()
        request.session[AWAITED] = [staff.pk, staff.get_session_auth_hash(), time.time()]
        return ""
    admit(request, staff)
    return ""


def awaited(request: HttpRequest) -> Staff | None:
    """Whose code this browser may send: the password was right a moment ago and still is."""
    pk, known, since = request.session.get(AWAITED, (None, "", 0))
    if pk is None or time.time() - since > CODE_WITHIN_SECONDS:
        return None
    staff: Staff | None = Staff.objects.filter(pk=pk, is_active=True).first()
    return staff if staff is not None and staff.get_session_auth_hash() == known else None


def try_code(request: HttpRequest, staff: Staff, code: str) -> str:
    """Signs in by the second factor; "" or what to tell the person."""
    if not Attempt.take(staff.username):
        note(request, "tried a locked name", detail=staff.username)
        return LOCKED
    if not second_factor.is_right(staff, code):
        return _wrong(request, staff.username, "wrong code", "This code is not right, or was used.")
    admit(request, staff)
    return ""


def admit(request: HttpRequest, staff: Staff) -> None:
    """Start this person's session under a new session key."""
    Attempt.forget(staff.username)
    request.session.pop(AWAITED, None)
    login(request, staff)
    request.session.pop(RESTS, None)
    request.session[LAST] = time.time()
    note(request, "signed in")


def try_wake(request: HttpRequest, word: str) -> str:
    """Wakes a resting screen by PIN or password; "" or what to tell the person."""
    staff: Staff = request.user
    if not Attempt.take(staff.username):
        return LOCKED
    if not (staff.check_pin(word) or staff.check_password(word)):
        return _wrong(request, staff.username, "wrong PIN", "PIN or password is not right.")
    Attempt.forget(staff.username)
    request.session.cycle_key()
    request.session.pop(RESTS, None)
    request.session[LAST] = time.time()
    note(request, "woke the screen")
    return ""


def try_own_password(request: HttpRequest, word: str) -> str:
    """Before one's own words change; wrong ones count like those at sign-in."""
    staff: Staff = request.user
    if not Attempt.take(staff.username):
        return LOCKED
    if not staff.check_password(word):
        wrong = "This is not your password."
        return _wrong(request, staff.username, "wrong password on own page", wrong)
    Attempt.forget(staff.username)
    return ""


def _wrong(request: HttpRequest, name: str, did: str, text: str) -> str:
    """The try stays counted; whether it was the last is in the trail and in the answer."""
    locked = Attempt.is_locked(name)
    note(request, "name locked" if locked else did, detail=name)
    return LOCKED if locked else text
