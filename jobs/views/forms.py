"""The booking form; what a job records is entered through the door, not through forms."""

import uuid
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from workshop import queries as shop

__all__ = ["BookingForm", "WithdrawForm"]


class BookingForm(forms.Form):
    """Which vehicle or pack of which customer arrives when, and when it is promised."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    customer = forms.ChoiceField(label=_("Customer"))
    vehicle = forms.ChoiceField(
        label=_("Vehicle"),
        required=False,
        help_text=_("Leave empty where a pack arrives without its vehicle."),
    )
    pack_serial = forms.CharField(
        label=_("Serial of the pack"),
        required=False,
        max_length=120,
        help_text=_("As on its plate; needed where it arrives alone."),
    )
    arrives_on = forms.DateField(
        label=_("Arrives"), required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    promised_on = forms.DateField(
        label=_("Promised"), required=False, widget=forms.DateInput(attrs={"type": "date"})
    )

    def __init__(self, *args: Any, search: str = "", **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"key": uuid.uuid4()})
        super().__init__(*args, **kwargs)
        vehicles = shop.vehicles(search)
        self._fill("customer", [(each.id, each.name) for each in shop.customers(search)])
        shown = [
            (each.id, f"{each.plate or each.vin}, {each.make} {each.model}, {each.customer_name}")
            for each in vehicles
        ]
        self._fill("vehicle", shown)

    def _fill(self, name: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        if isinstance(field, forms.ChoiceField):
            field.choices = [("", "–"), *choices]


class WithdrawForm(forms.Form):
    """Why a piece of equipment is taken out of use."""

    reason = forms.CharField(label=_("Reason"), max_length=300)
