"""Forms of sign-in and staff."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.validators import RegexValidator

from traywise.workbench.accounts.models import Staff

NEW_WORD_HELP = "Ten characters or more. A short sentence is easier to keep than a riddle."
_pin = RegexValidator(r"^\d{4,8}$", "A PIN is 4 to 8 digits.")


def _password(label: str, autocomplete: str, **more: Any) -> forms.CharField:
    widget = forms.PasswordInput(attrs={"autocomplete": autocomplete})
    return forms.CharField(label=label, widget=widget, strip=False, max_length=200, **more)


def _pin_field(label: str, **more: Any) -> forms.CharField:
    widget = forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
    return forms.CharField(label=label, widget=widget, validators=[_pin], required=False, **more)


class SignInForm(forms.Form):
    """Name and password."""

    username = forms.CharField(
        label="Sign-in name",
        max_length=150,
        widget=forms.TextInput(
            attrs={"autofocus": True, "autocomplete": "username", "autocapitalize": "none"}
        ),
    )
    password = _password("Password", "current-password")


class CodeForm(forms.Form):
    """The code of now, or a recovery code."""

    code = forms.CharField(
        label="Code",
        max_length=40,
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "autocapitalize": "none", "autofocus": True}
        ),
    )


class WakeForm(forms.Form):
    """PIN or password of the person whose screen rests."""

    word = _password("PIN or password", "current-password")

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["word"].widget.attrs["autofocus"] = True


class StaffForm(forms.ModelForm):
    """An account; the password is asked for a new one and optional afterwards."""

    password = _password("Password", "new-password", help_text=NEW_WORD_HELP, required=False)

    class Meta:
        model = Staff
        fields = ["full_name", "username", "role", "is_active"]

    def clean_password(self) -> str:
        word: str = self.cleaned_data["password"]
        if not word and self.instance.pk is None:
            raise forms.ValidationError("A new account needs a password.")
        if word:
            data = self.cleaned_data
            names = {"username": data.get("username"), "full_name": data.get("full_name")}
            validate_password(word, Staff(**{k: v or "" for k, v in names.items()}))
        return word

    def save(self, commit: bool = True) -> Staff:
        staff: Staff = super().save(commit=False)
        if self.cleaned_data["password"]:
            staff.set_password(self.cleaned_data["password"])
        staff.save()
        return staff


class FirstAccountForm(StaffForm):
    """The first account is a coordinator's: somebody must be able to make the others."""

    code = forms.CharField(
        label="Code printed where the workbench was started", required=False, max_length=40
    )

    class Meta(StaffForm.Meta):
        fields = ["full_name", "username"]


class PasswordNowForm(forms.Form):
    """One's own password, before one's own words change. ``check`` says what is wrong, or "" ."""

    current_password = _password("Password now", "current-password")

    def __init__(self, *args: Any, check: Callable[[str], str] | None = None, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.check = check

    def clean_current_password(self) -> str:
        word: str = self.cleaned_data["current_password"]
        fault = self.check(word) if self.check else ""
        if fault:
            raise forms.ValidationError(fault)
        return word


class OwnWordsForm(PasswordNowForm):
    """One's own password and PIN."""

    new_password = _password(
        "New password", "new-password", help_text=NEW_WORD_HELP, required=False
    )
    new_pin = _pin_field("New PIN", help_text="4 to 8 digits. It wakes your resting screen.")

    def __init__(self, *args: Any, staff: Staff, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.staff = staff

    def clean_new_password(self) -> str:
        word: str = self.cleaned_data["new_password"]
        if word:
            validate_password(word, self.staff)
        return word
