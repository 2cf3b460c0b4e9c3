"""The second factor: asked at sign-in, set up on one's own page, reset by a coordinator."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from traywise.workbench.accounts import second_factor
from traywise.workbench.accounts.forms import CodeForm, PasswordNowForm
from traywise.workbench.accounts.models import Attempt, Staff
from traywise.workbench.accounts.next_page import next_page
from traywise.workbench.accounts.roles import needs, open_to_all
from traywise.workbench.accounts.signing_in import LOCKED, awaited, try_code, try_own_password
from traywise.workbench.audit.models import note


@open_to_all
@require_http_methods(["GET", "POST"])
def sign_in_code(request: HttpRequest) -> HttpResponse:
    """After a right password: the code, or a recovery code."""
    staff = awaited(request)
    if staff is None:
        return redirect("sign-in")
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        fault = try_code(request, staff, form.cleaned_data["code"])
        if not fault:
            return redirect(next_page(request))
        form.add_error("code", fault)
    context = {"form": form, "next": next_page(request)}
    return render(request, "accounts/sign_in_code.html", context)


@needs("look")
@require_http_methods(["GET", "POST"])
def own_factor(request: HttpRequest) -> HttpResponse:
    """Set up, confirm, renew the recovery codes, or switch off: each a plain form."""
    is_on = second_factor.is_on(request.user)
    if request.method == "POST" and not is_on and request.POST.get("do") == "confirm":
        return _confirm(request)
    word = PasswordNowForm(request.POST or None, check=lambda text: try_own_password(request, text))
    if request.method == "POST" and word.is_valid():
        return _changed(request, is_on)
    return _page(request, is_on, word=word)


def _changed(request: HttpRequest, is_on: bool) -> HttpResponse:
    """The password was right: what was asked for is done."""
    do = request.POST.get("do")
    if do == "off" and second_factor.switch_off(request.user):
        note(request, "switched own second factor off")
        messages.success(request, "Off. Sign-in asks for the password alone.")
    elif do == "renew" and is_on:
        codes = second_factor.renew_recovery_codes(request.user)
        note(request, "renewed own recovery codes")
        return _page(request, True, codes=codes)
    elif do == "begin" and not is_on:
        second_factor.begin(request.user)
        note(request, "began to set up a second factor")
    return redirect("own-factor")


def _confirm(request: HttpRequest) -> HttpResponse:
    factor = getattr(request.user, "second_factor", None)
    form = CodeForm(request.POST)
    if factor is None:
        return redirect("own-factor")
    if form.is_valid():
        if not Attempt.take(request.user.username):
            form.add_error("code", LOCKED)
        elif codes := second_factor.confirm(factor, form.cleaned_data["code"]):
            Attempt.forget(request.user.username)
            note(request, "set up a second factor")
            return _page(request, True, codes=codes)
        else:
            note(request, "wrong code", detail="while setting up")
            form.add_error("code", "This code is not right. Wait for the next one.")
    return _page(request, False, code=form)


def _page(
    request: HttpRequest,
    is_on: bool,
    *,
    word: PasswordNowForm | None = None,
    code: CodeForm | None = None,
    codes: list[str] | None = None,
) -> HttpResponse:
    factor = None if is_on else getattr(request.user, "second_factor", None)
    context = {
        "is_on": is_on,
        "factor": factor,
        "picture": second_factor.picture_of(factor) if factor else "",
        "left": second_factor.recovery_codes_left(request.user),
        "codes": codes,
        "word": word or PasswordNowForm(),
        "code": code or CodeForm(),
    }
    return render(request, "accounts/own_factor.html", context)


@needs("keep the staff")
@require_POST
def reset_factor(request: HttpRequest, pk: int) -> HttpResponse:
    """A colleague lost the telephone and the recovery codes."""
    person = get_object_or_404(Staff, pk=pk)
    if person == request.user:
        messages.error(request, "Switch your own off on your own page, with your password.")
    elif second_factor.switch_off(person):
        note(request, "reset a second factor", detail=person.username)
        messages.success(request, f"{person.full_name} signs in with the password alone now.")
    else:
        messages.warning(request, f"{person.full_name} has no second factor.")
    return redirect("staff-one", pk)
