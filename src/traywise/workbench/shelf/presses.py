"""Names of presses: what is sent twice from one form is done once."""

from __future__ import annotations

import secrets

from django.http import HttpRequest

LONGEST = 40


def fresh_key() -> str:
    """Names one press of one form as it was shown."""
    return secrets.token_urlsafe(18)


def press_of(request: HttpRequest) -> str:
    """The name that came with the form. The deed puts what it is about before it, so that a
    name that was used or guessed elsewhere never hides a deed."""
    return (request.POST.get("key") or fresh_key())[:LONGEST]
