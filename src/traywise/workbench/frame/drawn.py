"""Parts of pages that are drawn once for everybody until what they show changes.

Only the token that guards a form belongs to one person: the part is drawn with a mark in
its place, and the person's own token is put in when it is sent.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.http import HttpRequest
from django.middleware.csrf import get_token
from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe

from traywise.workbench.asking.memory import Memory

_MARK = "token-of-the-form-of-one-person"
_drawn: Memory[str] = Memory(600)


def forget_drawn() -> None:
    """Draw everything anew: for a process that changes its database, as tests do."""
    _drawn.clear()


def drawn_once(
    request: HttpRequest, template: str, key: str, context: Callable[[], Mapping[str, Any]]
) -> SafeString:
    """The part ``template``, drawn anew only for a new ``key``.

    key      must name everything the part shows, the person's rights included
    context  called only when the part is drawn
    """

    def draw() -> str:
        return render_to_string(template, {**context(), "csrf_token": _MARK})

    html = _drawn.get(f"{template} {key}", draw)
    # The template escaped every text, and a token is letters and digits only.
    return mark_safe(html.replace(_MARK, get_token(request)))  # noqa: S308
