"""Checks a name and password, with lock-out; the same words whatever was wrong."""

from __future__ import annotations

import time

from django.contrib.auth import authenticate, login
from django.http import HttpRequest

from traywise.workbench.accounts.models import Attempt, Staff
from traywise.workbench.accounts.resting import LAST, RESTS
from traywise.workbench.audit.models import note

WRONG = "Name or password is not right."
LOCKED = (
    "Too many wrong tries with this name. Wait a quarter of an hour, "
    "or ask your coordinator to unlock it."
)


def try_sign_in(request: HttpRequest, name: str, password: str) -> str:
    """Signs in and returns "", or returns what to tell the person."""
    if Attempt.is_locked(name):
        note(request, "tried a locked name", detail=name)
        return LOCKED
    staff = authenticate(request, username=name, password=password)
    if staff is None:
        locked = Attempt.count_failure(name)
        note(request, "name locked" if locked else "wrong password", detail=name)
        return LOCKED if locked else WRONG
    admit(request, staff)
    return ""


def admit(request: HttpRequest, staff: Staff) -> None:
    """Start this person's session under a new session key."""
    Attempt.forget(staff.username)
    login(request, staff)
    request.session.pop(RESTS, None)
    request.session[LAST] = time.time()
    note(request, "signed in")


def try_wake(request: HttpRequest, word: str) -> str:
    """Wakes a resting screen by PIN or password; "" or what to tell the person."""
    staff: Staff = request.user
    if Attempt.is_locked(staff.username):
        return LOCKED
    if not (staff.check_pin(word) or staff.check_password(word)):
        locked = Attempt.count_failure(staff.username)
        note(request, "name locked" if locked else "wrong PIN")
        return LOCKED if locked else "PIN or password is not right."
    Attempt.forget(staff.username)
    request.session.cycle_key()
    request.session.pop(RESTS, None)
    request.session[LAST] = time.time()
    note(request, "woke the screen")
    return ""
