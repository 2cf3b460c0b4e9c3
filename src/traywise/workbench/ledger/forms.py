"""Forms of a correction."""

from __future__ import annotations

from typing import Any

from django import forms

from traywise.rulebook.codes import route_codes, site_codes
from traywise.workbench.frame.forms import DateField
from traywise.workbench.ledger.effects import GivenDose
from traywise.workbench.shelf.models import Lot

_REASON = {"min_length": 5, "max_length": 300, "label": "Reason of the correction"}


class UndoForm(forms.Form):
    """The dose was not given after all."""

    back_on_shelf = forms.BooleanField(
        label="The dose is untouched and lies in its fridge again", required=False
    )
    reason = forms.CharField(**_REASON)


class ChangeForm(forms.Form):
    """What the entry should have said."""

    on = DateField(label="Given on")
    lot = forms.CharField(label="Lot", max_length=40)
    route = forms.ChoiceField(label="Route")
    site = forms.ChoiceField(label="Site", required=False)
    volume_ml = forms.FloatField(label="Volume, mL", min_value=0.01, max_value=10)
    full = forms.ChoiceField(
        label="Was the whole dose given",
        choices=[("", "yes"), ("false", "no, a part was lost")],
        required=False,
    )
    reason = forms.CharField(**_REASON)

    def __init__(self, *args: Any, dose: GivenDose, **kwargs: Any):
        names = ("on", "lot", "route", "site", "volume_ml")
        initial = {name: dose.body.get(name) for name in names}
        initial["full"] = "false" if dose.body.get("full") is False else ""
        super().__init__(*args, initial=initial, **kwargs)
        self.dose = dose
        self.fields["route"].choices = [(key, row.name) for key, row in route_codes().items()]
        sites = [(key, row.name) for key, row in site_codes().items()]
        self.fields["site"].choices = [("", "none (by mouth, nose)"), *sites]

    def clean_lot(self) -> Lot | None:
        """The row of the shelf; None when the lot stays as it was."""
        text = self.cleaned_data["lot"].strip()
        if text.casefold() == str(self.dose.body.get("lot")).casefold():
            return None
        lot = Lot.objects.filter(lot__iexact=text).order_by("-doses_left").first()
        if lot is None:
            raise forms.ValidationError("This lot is not on the shelf. Receive it there first.")
        return lot

    def changes(self) -> dict[str, Any]:
        """Only what differs from what stands now."""
        data, body = self.cleaned_data, self.dose.body
        new = {
            "on": data["on"].isoformat(),
            "route": data["route"],
            "site": data["site"] or None,
            "volume_ml": data["volume_ml"],
            "full": False if data["full"] == "false" else body.get("full") and None,
        }
        return {name: value for name, value in new.items() if body.get(name) != value}
