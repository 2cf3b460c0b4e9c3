"""Forms of the child. The record room judges what was typed; faults land on their field."""

from __future__ import annotations

import re
from typing import Any

import msgspec
from django import forms

from traywise.record.cell_values import read_vaccine
from traywise.record.child import Child, CvxCode, DoseGiven
from traywise.record.read_json import read_children
from traywise.record.result import Entry
from traywise.record.values import BadValue
from traywise.rulebook.conditions import conditions
from traywise.workbench.children.models import ChildRecord
from traywise.workbench.frame.forms import DateField

_FIELD = re.compile(r", line \d+, (?P<field>[a-z_]+)")


class RosterForm(forms.Form):
    """A dropped file."""

    file = forms.FileField(label="Roster file", allow_empty_file=True)


class ChildForm(forms.Form):
    """Facts of one child. What is not known stays empty: empty never means no."""

    id = forms.CharField(label="Id in your records", max_length=80)
    name = forms.CharField(label="Name", max_length=120)
    born = DateField(label="Date of birth")
    sex = forms.ChoiceField(
        label="Sex",
        required=False,
        choices=[("", "not known"), ("F", "F"), ("M", "M"), ("X", "X")],
    )
    gestation_weeks = forms.IntegerField(label="Weeks at birth", required=False)
    birth_weight_g = forms.IntegerField(label="Birth weight, g", required=False)
    weight_kg = forms.FloatField(label="Weight, kg", required=False)
    weighed_on = DateField(label="Weighed on", required=False)
    height_cm = forms.FloatField(label="Height, cm", required=False)
    conditions = forms.MultipleChoiceField(
        label="Conditions known",
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, *args: Any, kept: Child | None = None, **kwargs: Any):
        self.kept = kept
        if kept is not None:
            kwargs.setdefault("initial", _initial(kept))
        super().__init__(*args, **kwargs)
        self.fields["conditions"].choices = [
            (key, row.name) for key, row in sorted(conditions().items())
        ]
        self.warnings: list[str] = []
        self.child: Child | None = None
        if kept is not None:
            self.fields["id"].disabled = True

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean()
        if not self.errors:
            self._read(data)
        return data

    def _read(self, data: dict[str, Any]) -> None:
        raw = msgspec.to_builtins(self.kept) if self.kept else {}
        raw = {key: value for key, value in raw.items() if value is not None}
        for name, value in data.items():
            if name != "conditions":
                raw[name] = None if value in ("", None) else msgspec.to_builtins(value)
        raw["conditions"] = self._conditions(data["conditions"])
        entry = read_children(msgspec.json.encode(raw), "form").entries[0]
        for fault in entry.faults:
            found = _FIELD.search(fault.at)
            field = found["field"] if found and found["field"] in self.fields else None
            if fault.is_error:
                self.add_error(field, fault.text)
            else:
                self.warnings.append(fault.text)
        taken = ChildRecord.objects.filter(record_id=raw["id"]).exists()
        if self.kept is None and taken:
            self.add_error("id", "Another child has this id.")
        self.child = entry.child

    def _conditions(self, chosen: list[str]) -> list[Any]:
        """Chosen keys; from and until of those already known are kept."""
        known = {c.key: msgspec.to_builtins(c) for c in (self.kept.conditions if self.kept else ())}
        return [known.get(key, key) for key in chosen]


def _initial(child: Child) -> dict[str, Any]:
    names = ChildForm.base_fields
    values = {name: getattr(child, name) for name in names if name != "conditions"}
    return values | {"conditions": [condition.key for condition in child.conditions]}


class PastDoseForm(forms.Form):
    """A dose from a card or another clinic."""

    vaccine = forms.CharField(
        label="Vaccine", max_length=60, help_text="CVX code or name: 110, MMR, DTaP-IPV"
    )
    on = DateField(label="Given on")
    lot = forms.CharField(label="Lot", max_length=40, required=False)

    def __init__(self, *args: Any, kept: Child, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.kept = kept
        self.child: Child | None = None

    def clean_vaccine(self) -> CvxCode:
        try:
            return read_vaccine(self.cleaned_data["vaccine"])
        except BadValue as bad:
            raise forms.ValidationError(bad.text) from None

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean()
        if self.errors:
            return data
        dose = DoseGiven(on=data["on"], cvx=data["vaccine"], lot=data["lot"] or None)
        more = msgspec.structs.replace(self.kept, doses=(*self.kept.doses, dose))
        before = {fault.text for fault in check_record(self.kept).faults}
        entry = check_record(more)
        for fault in entry.faults:
            if fault.is_error and fault.text not in before:
                self.add_error("on", fault.text)
        self.child = more
        return data


def check_record(child: Child) -> Entry:
    """What the record room says of a record that was changed by hand."""
    raw = {key: value for key, value in msgspec.to_builtins(child).items() if value is not None}
    return read_children(msgspec.json.encode(raw), "form").entries[0]
