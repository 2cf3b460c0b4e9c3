"""Adding a child to a day."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.core.validators import RegexValidator

TIME = RegexValidator(r"^([01]\d|2[0-3]):[0-5]\d$", 'Write the time as "09:20".')


class AddVisitForm(forms.Form):
    """A time for a child who is in the clinic's records already."""

    time = forms.CharField(
        label="Time",
        required=False,
        max_length=5,
        help_text="As 09:20. Leave empty for a child who walks in.",
    )

    def clean_time(self) -> Any:
        text = self.cleaned_data["time"].strip()
        if re.fullmatch(r"\d:\d\d", text):
            text = "0" + text
        if text:
            TIME(text)
        return text
