"""Forms of the child. The record room judges what was typed; faults land on their field."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import msgspec
from django import forms
from django.http import QueryDict

from traywise.errors import Fault
from traywise.record.cell_values import read_vaccine
from traywise.record.child import Child, Condition, CvxCode, DoseGiven
from traywise.record.read_json import read_children
from traywise.record.result import Entry
from traywise.record.values import BadValue
from traywise.workbench.children.condition_days import Slot, slots_of
from traywise.workbench.children.models import ChildRecord
from traywise.workbench.frame.forms import DateField

_FIELD = re.compile(r", line \d+, (?P<field>[a-z_]+)")
_DAY_OF_CONDITION = re.compile(r", conditions\[(?P<number>\d+)\]\.(?P<part>from|until)$")
DAYS = ("from", "until")  # the days of a condition, as the record names them


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
    conditions = forms.MultipleChoiceField(label="Conditions known", required=False)

    def __init__(self, data: QueryDict | None = None, *, kept: Child | None = None):
        self.kept = kept
        self.slots = slots_of(kept.conditions if kept else ())
        super().__init__(
            _with_what_was_not_shown(data, self.slots) if data else None,
            initial=_initial(kept, self.slots) if kept else None,
        )
        self.fields["conditions"].choices = [(slot.value, slot.name) for slot in self.slots]
        self._add_days()
        self.warnings: list[str] = []
        self.child: Child | None = None
        if kept is not None:
            self.fields["id"].disabled = True

    def _add_days(self) -> None:
        """Two days for what is on record or ticked, and for each whose days the rulebook reads.

        Not for all: of close to two hundred conditions few ever need days, and a tablet should
        not load them.
        """
        ticked = self.data.getlist("conditions") if self.is_bound else ()
        for slot in self.slots:
            if slot.kept or any(slot.meaning) or slot.value in ticked:
                for part, words in zip(DAYS, slot.meaning, strict=True):
                    label = f"{part.capitalize()}: {words}" if words else part.capitalize()
                    field = DateField(label=label, required=False)
                    self.fields[f"{part}-{slot.value}"] = field

    def condition_lines(self) -> dict[str, list[dict[str, Any]]]:
        """The slots as drawn: on record or ticked just now, counted by their days, all others."""
        ticked = {str(value) for value in self["conditions"].value() or ()}
        lines: dict[str, list[dict[str, Any]]] = {"on_record": [], "by_days": [], "others": []}
        for slot in self.slots:
            days = [self[n] for part in DAYS if (n := f"{part}-{slot.value}") in self.fields]
            line = {
                "slot": slot,
                "ticked": slot.value in ticked,
                "days": days,
                "faulty": any(day.errors for day in days),
            }
            kind = "by_days" if any(slot.meaning) else "others"
            if slot.kept or line["ticked"] or line["faulty"]:
                kind = "on_record"  # after a fault nothing that was touched hides further down
            lines[kind].append(line)
        return lines

    def faulty_fields(self) -> list[tuple[str, str]]:
        """Id and words of each field that needs a look, for links at the head of a long form."""
        days = {f"{part}-{slot.value}": slot.name for slot in self.slots for part in DAYS}
        return [
            (field.id_for_label, ", ".join(filter(None, (days.get(field.name), field.label))))
            for field in self
            if field.errors
        ]

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean()
        self._refuse_days_without_tick(data)
        if not self.errors:
            self._read(data)
        return data

    def _refuse_days_without_tick(self, data: dict[str, Any]) -> None:
        """Days typed beside a condition that is not ticked are not dropped: a person decides."""
        for slot in self.slots:
            if slot.value in data.get("conditions", ()):
                continue
            kept = (slot.kept.since, slot.kept.until) if slot.kept else (None, None)
            for part, was in zip(DAYS, kept, strict=True):
                day = data.get(f"{part}-{slot.value}")
                if day is not None and day != was:
                    text = "Tick the condition this day belongs to, or clear the day."
                    self.add_error(f"{part}-{slot.value}", text)

    def _read(self, data: dict[str, Any]) -> None:
        raw = msgspec.to_builtins(self.kept) if self.kept else {}
        raw = {key: value for key, value in raw.items() if value is not None}
        for name in self.base_fields:
            value = data[name]
            if name != "conditions":
                raw[name] = None if value in ("", None) else msgspec.to_builtins(value)
        chosen = [slot for slot in self.slots if slot.value in data["conditions"]]
        raw["conditions"] = [msgspec.to_builtins(_condition(slot, data)) for slot in chosen]
        entry = read_children(msgspec.json.encode(raw), "form").entries[0]
        for fault in entry.faults:
            if fault.is_error:
                self.add_error(self._field_of(fault, chosen), fault.text)
            else:
                self.warnings.append(fault.text)
        taken = ChildRecord.objects.filter(record_id=raw["id"]).exists()
        if self.kept is None and taken:
            self.add_error("id", "Another child has this id.")
        self.child = entry.child

    def _field_of(self, fault: Fault, chosen: Sequence[Slot]) -> str | None:
        """The field a fault of the record room belongs to; None for the form as a whole."""
        if found := _DAY_OF_CONDITION.search(fault.at):
            field = f"{found['part']}-{chosen[int(found['number'])].value}"
        else:
            found = _FIELD.search(fault.at)
            field = found["field"] if found else ""
        return field if field in self.fields else None


def _condition(slot: Slot, data: dict[str, Any]) -> Condition:
    since, until = (data.get(f"{part}-{slot.value}") for part in DAYS)
    return Condition(key=slot.key, since=since, until=until)


def _with_what_was_not_shown(data: QueryDict, slots: Sequence[Slot]) -> QueryDict:
    """The sent form; a condition that it did not show yet stays on record as it is.

    Every condition on record is shown with its days, so one whose days were not sent came on
    record after the form was opened.
    """
    whole = data.copy()
    for slot in slots:
        names = [f"{part}-{slot.value}" for part in DAYS]
        if slot.kept and not any(name in data for name in names):
            if slot.value not in data.getlist("conditions"):
                whole.appendlist("conditions", slot.value)
            for name, day in zip(names, (slot.kept.since, slot.kept.until), strict=True):
                whole[name] = day.isoformat() if day else ""
    return whole


def _initial(child: Child, slots: Sequence[Slot]) -> dict[str, Any]:
    names = ChildForm.base_fields
    values = {name: getattr(child, name) for name in names if name != "conditions"}
    for slot in slots:
        if slot.kept:
            values[f"from-{slot.value}"] = slot.kept.since
            values[f"until-{slot.value}"] = slot.kept.until
    return values | {"conditions": [slot.value for slot in slots if slot.kept]}


class PastDoseForm(forms.Form):
    """A dose from a card or another clinic."""

    vaccine = forms.CharField(
        label="Vaccine", max_length=60, help_text="CVX code or name: 110, MMR, DTaP-IPV"
    )
    on = DateField(label="Given on")
    lot = forms.CharField(label="Lot", max_length=40, required=False)
    campaign = forms.TypedChoiceField(
        label="Given in a campaign",
        help_text="A mass campaign, outside the routine series",
        required=False,
        choices=[("", "not known"), ("yes", "yes"), ("no", "no")],
        coerce=lambda text: text == "yes",
        empty_value=None,
    )

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
        dose = DoseGiven(
            on=data["on"],
            cvx=data["vaccine"],
            lot=data["lot"] or None,
            campaign=data["campaign"],
        )
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
