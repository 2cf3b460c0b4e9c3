"""Forms of the shelf."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from traywise.equipment.supply_cells import item_rows, read_cells
from traywise.record.values import BadValue, read_expiry
from traywise.rulebook.vaccines import vaccines
from traywise.workbench.shelf.models import Lot, Supply


class ExpiryField(forms.CharField):
    """A day, or year and month meaning its last day, as lots are printed."""

    def clean(self, value: Any) -> date | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_expiry(text)
        except BadValue as bad:
            raise forms.ValidationError(bad.text) from None


def product_choices() -> list[tuple[str, str]]:
    """Every product that can be given, by key and CVX code."""
    pairs = [
        (f"{vaccine.key} {cvx}", f"{vaccine.key} · CVX {cvx}")
        for vaccine in vaccines().values()
        for cvx in vaccine.cvx
    ]
    return [("", "choose"), *sorted(pairs, key=lambda pair: pair[1].casefold())]


class ReceiveForm(forms.ModelForm):
    """Doses that come in. A lot that is on the shelf already grows."""

    product = forms.ChoiceField(label="Product")
    expires = ExpiryField(label="Use by", help_text="2027-03 or 2027-03-31")
    doses = forms.IntegerField(label="Doses received", min_value=1, max_value=100_000)

    class Meta:
        model = Lot
        fields = ["lot", "presentation", "funding", "unit", "gtin", "doses_per_vial"]

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["product"].choices = product_choices()

    def clean_lot(self) -> str:
        return str(self.cleaned_data["lot"]).upper()

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean()
        key, _, cvx = (data.get("product") or "").rpartition(" ")
        data["vaccine"], data["cvx"] = key, cvx
        vaccine = vaccines().get(key)
        shape = data.get("presentation")
        if vaccine and shape and shape not in vaccine.presentations:
            known = ", ".join(vaccine.presentations)
            self.add_error("presentation", f"{vaccine.key} comes as {known}.")
        return data

    def validate_constraints(self) -> None:
        """A lot that is there already is no fault here: it grows."""

    def same_lot(self) -> Lot | None:
        """The row these doses belong to, if it is there."""
        data = self.cleaned_data
        return Lot.objects.filter(
            lot=data["lot"], cvx=data["cvx"], funding=data["funding"], unit=data["unit"]
        ).first()


class CountForm(forms.Form):
    """What was found."""

    found = forms.IntegerField(label="Doses found", min_value=0, max_value=100_000)
    note = forms.CharField(label="Remark", max_length=200, required=False)


class WasteForm(forms.Form):
    """Doses thrown away."""

    doses = forms.IntegerField(label="Doses thrown away", min_value=1, max_value=100_000)
    note = forms.CharField(label="Why", max_length=200)


class QuarantineForm(forms.Form):
    """Set apart, kept cold."""

    why = forms.CharField(label="Why is it set apart", max_length=190)


class SupplyForm(forms.ModelForm):
    """Needles, syringes and the rest: one box or kind, judged as a line of a supplies list is."""

    item = forms.ChoiceField(label="Item")
    expires = forms.CharField(
        label="Use by", required=False, help_text="2027-03 or 2027-03-31; empty if none is printed"
    )

    class Meta:
        model = Supply
        fields = ["item", "gauge", "length_mm", "volume_ml", "count", "expires"]
        labels = {"length_mm": "Length, mm", "volume_ml": "Volume, mL"}
        help_texts = {
            "gauge": "Of needles",
            "length_mm": "Of needles",
            "volume_ml": "Of syringes",
        }

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["item"].choices = [(item, item) for item in item_rows()]

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean()
        typed, data["expires"] = data.get("expires"), None
        if self.errors:
            return data
        cells = {name: "" if value is None else str(value) for name, value in data.items()}
        supply, faults = read_cells(cells | {"expires": typed or ""}, "form")
        for fault in faults:
            if fault.is_error:
                self.add_error(fault.at.rpartition("column ")[2], fault.text)
        for name in ("gauge", "length_mm", "volume_ml"):
            if cells[name] and name not in item_rows()[data["item"]].needs:
                # With a figure of another item it would never match what a tray asks for.
                self.add_error(name, f"For {data['item']} this stays empty.")
        return data | {"expires": supply.expires if supply else None}


class OrderForm(forms.Form):
    """How deliveries come."""

    every = forms.IntegerField(label="Days between deliveries", min_value=1, max_value=365)
    lead = forms.IntegerField(label="Days from order to delivery", min_value=0, max_value=365)
