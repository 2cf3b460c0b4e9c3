"""Sign in, rest, wake, sign out; one's own words; the staff."""

from __future__ import annotations

import secrets
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout, update_session_auth_hash
from django.db import connection, transaction
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from traywise.workbench.accounts import second_factor
from traywise.workbench.accounts.forms import (
    FirstAccountForm,
    OwnWordsForm,
    SignInForm,
    StaffForm,
    WakeForm,
)
from traywise.workbench.accounts.models import Attempt, Staff
from traywise.workbench.accounts.next_page import next_page
from traywise.workbench.accounts.resting import HELD
from traywise.workbench.accounts.roles import COORDINATOR, needs, open_to_all
from traywise.workbench.accounts.signing_in import (
    AWAITED,
    admit,
    try_own_password,
    try_sign_in,
    try_wake,
)
from traywise.workbench.audit.models import AuditEntry, ChainHead, note


@open_to_all
@require_http_methods(["GET", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    if not Staff.objects.exists():
        return redirect("first")
    form = SignInForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        fault = try_sign_in(request, form.cleaned_data["username"], form.cleaned_data["password"])
        if not fault and AWAITED in request.session:
            return redirect(reverse("sign-in-code") + "?" + urlencode({"next": next_page(request)}))
        if not fault:
            return redirect(next_page(request))
        form.add_error(None, fault)
    return render(request, "accounts/sign_in.html", {"form": form, "next": next_page(request)})


@open_to_all
@require_http_methods(["GET", "POST"])
def first(request: HttpRequest) -> HttpResponse:
    """Makes the first account; afterwards this page is gone."""
    if Staff.objects.exists():
        return redirect("sign-in")
    form = FirstAccountForm(request.POST or None)
    if not settings.FIRST_CODE:
        del form.fields["code"]
    if request.method == "POST" and form.is_valid():
        if settings.FIRST_CODE and not secrets.compare_digest(
            form.cleaned_data["code"].encode(), settings.FIRST_CODE.encode()
        ):
            form.add_error("code", "This is not the code.")
        else:
            form.instance.role = COORDINATOR
            staff = _save_first(form)
            if staff is None:
                return redirect("sign-in")
            admit(request, staff)
            note(request, "made the first account")
            return redirect("day")
    return render(request, "accounts/first.html", {"form": form})


def _save_first(form: FirstAccountForm) -> Staff | None:
    """The account, unless another first one was made meanwhile."""
    with transaction.atomic():
        # The trail's head is the lock: of two who send at once, one makes the first account.
        ChainHead.objects.select_for_update().get(name=AuditEntry.chain)
        return None if Staff.objects.exists() else form.save()


@needs("look")
@require_http_methods(["GET", "POST"])
def wake(request: HttpRequest) -> HttpResponse:
    form = WakeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        fault = try_wake(request, form.cleaned_data["word"])
        if not fault:
            if request.session.get(HELD):
                return render(request, "accounts/held.html", {"held": request.session.pop(HELD)})
            return redirect(next_page(request))
        form.add_error(None, fault)
    return render(request, "accounts/wake.html", {"form": form, "next": next_page(request)})


@needs("look")
@require_POST
def rest(request: HttpRequest) -> HttpResponse:
    """The person walks away: rest now."""
    request.session["rests"] = True
    return redirect("wake")


@open_to_all
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    if request.user.is_authenticated:
        note(request, "signed out")
    logout(request)
    return redirect("sign-in")


@needs("look")
@require_http_methods(["GET", "POST"])
def own(request: HttpRequest) -> HttpResponse:
    form = OwnWordsForm(
        request.POST or None,
        staff=request.user,
        check=lambda word: try_own_password(request, word),
    )
    if request.method == "POST" and form.is_valid():
        staff = request.user
        if form.cleaned_data["new_password"]:
            staff.set_password(form.cleaned_data["new_password"])
        if form.cleaned_data["new_pin"]:
            staff.set_pin(form.cleaned_data["new_pin"])
        staff.save()
        update_session_auth_hash(request, staff)
        note(request, "changed own password or PIN")
        messages.success(request, "Changed.")
        return redirect("own")
    return render(request, "accounts/own.html", {"form": form})


@needs("keep the staff")
@require_http_methods(["GET"])
def staff_list(request: HttpRequest) -> HttpResponse:
    people = list(Staff.objects.select_related("second_factor"))
    for person in people:
        person.locked = Attempt.is_locked(person.username)
    return render(request, "accounts/staff.html", {"people": people})


@needs("keep the staff")
@require_http_methods(["GET", "POST"])
def staff_new(request: HttpRequest) -> HttpResponse:
    form = StaffForm(request.POST or None, initial={"is_active": True})
    if request.method == "POST" and form.is_valid():
        staff = form.save()
        note(request, "made an account", detail=f"{staff.username}, {staff.role}")
        messages.success(request, f"{staff.full_name} may sign in now.")
        return redirect("staff")
    return render(request, "accounts/staff_one.html", {"form": form})


@needs("keep the staff")
@require_http_methods(["GET", "POST"])
def staff_one(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Staff, pk=pk)
    form = StaffForm(request.POST or None, instance=person)
    if request.method == "POST" and form.is_valid():
        if person == request.user and not _stays_coordinator(form):
            form.add_error(None, "You cannot take your own coordinator's role or sign-in away.")
        else:
            form.save()
            Attempt.forget(person.username)
            note(request, "changed an account", detail=f"{person.username}, {person.role}")
            messages.success(request, f"{person.full_name}: changed and unlocked.")
            return redirect("staff")
    context = {"form": form, "person": person, "has_factor": second_factor.is_on(person)}
    return render(request, "accounts/staff_one.html", context)


def _stays_coordinator(form: StaffForm) -> bool:
    return bool(form.cleaned_data["is_active"]) and form.cleaned_data["role"] == COORDINATOR


@open_to_all
@require_http_methods(["GET"])
def healthy(request: HttpRequest) -> HttpResponse:
    """For the one who watches the server: whether the database answers."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"healthy": True})
