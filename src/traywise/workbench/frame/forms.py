"""How form fields are drawn: label, control, help, fault, in one template."""

from __future__ import annotations

from django import forms
from django.forms.renderers import TemplatesSetting


class PaperRenderer(TemplatesSetting):
    """Fields drawn by our own template."""

    field_template_name = "frame/field.html"


class DateField(forms.DateField):
    """A date as YYYY-MM-DD with the browser's own picker."""

    def __init__(self, **kwargs: object):
        kwargs.setdefault("widget", forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))
        kwargs.setdefault("input_formats", ["%Y-%m-%d"])
        super().__init__(**kwargs)
