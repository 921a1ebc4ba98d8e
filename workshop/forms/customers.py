"""Forms about customers and vehicles, and the ways on where a plate or VIN is known already."""

import re
from collections.abc import Sequence
from datetime import datetime
from typing import Any, Final

from django import forms
from django.core.validators import RegexValidator
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from typing_extensions import override

from workshop.details import CustomerDetails, VehicleDetails
from workshop.finding import VIN_LENGTH, phone_core
from workshop.forms.fields import GroupedForm, LanguageField
from workshop.registers import VehicleInfo
from workshop.ways import ANOTHER, CHANGED_HANDS, EXISTING, may_be_another, said

LONGEST_VIN_TYPED: Final = 30


class CustomerForm(GroupedForm):
    """A customer."""

    name = forms.CharField(label=_("Name"), max_length=120)
    phone = forms.CharField(
        label=_("Telephone"),
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "tel", "autocomplete": "off"}),
    )
    email = forms.EmailField(label=_("Mail"), max_length=200, required=False)
    address = forms.CharField(
        label=_("Address"),
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    note = forms.CharField(
        label=_("Note"), max_length=1000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    language = LanguageField(label=_("Language of their papers"))
    consent = forms.BooleanField(
        label=_("Agrees that these data are kept for the job"), required=False
    )

    GROUPS = (
        (_("Customer"), ("name", "phone", "email", "address", "language", "note", "consent")),
    )

    def clean_phone(self) -> str:
        """Refuse what cannot be a telephone number."""
        typed = " ".join(str(self.cleaned_data["phone"]).split())
        if typed and not phone_core(typed):
            why = gettext("Enter a telephone number: digits, with + at the front if need be.")
            raise forms.ValidationError(why, code="phone")
        return typed

    def details(self, now: datetime, *, consent_before: datetime | None = None) -> CustomerDetails:
        """Give what was entered; a consent given earlier keeps its time."""
        data = dict(self.cleaned_data)
        agreed = data.pop("consent")
        return CustomerDetails(**data, consent_at=(consent_before or now) if agreed else None)


class VehicleForm(GroupedForm):
    """A vehicle; where its plate or VIN is known already, a person says which way to go on."""

    plate = forms.CharField(label=_("Plate"), max_length=20, required=False)
    way = forms.RegexField(
        label=_("Which is it?"),
        regex=rf"\A(?:{ANOTHER}|(?:{CHANGED_HANDS}|{EXISTING}):[0-9a-f-]{{36}})\Z",
        required=False,
        widget=forms.HiddenInput,
    )
    vin = forms.CharField(
        label=_("VIN or frame number"),
        max_length=LONGEST_VIN_TYPED,
        required=False,
        validators=[
            RegexValidator(
                r"\A[A-HJ-NPR-Za-hj-npr-z0-9 -]*\Z",
                _("A VIN has digits and letters without I, O and Q. Check it on the vehicle."),
            )
        ],
    )
    make = forms.CharField(label=_("Make"), max_length=60, required=False)
    model = forms.CharField(label=_("Model"), max_length=60, required=False)
    year = forms.IntegerField(label=_("Model year"), min_value=1950, max_value=2199, required=False)
    body = forms.CharField(
        label=_("Body"), max_length=60, required=False, help_text=_("Such as closed van.")
    )

    GROUPS = ((_("Vehicle"), ("plate", "way", "vin", "make", "model", "year", "body")),)

    def clean_plate(self) -> str:
        """Write plates in capitals with single spaces."""
        return " ".join(str(self.cleaned_data["plate"]).upper().split())

    def clean_vin(self) -> str:
        """Write VINs in capitals, without the spaces and dashes they are read out with."""
        vin = "".join(str(self.cleaned_data["vin"]).upper().split())
        close = vin.replace("-", "")
        vin = close if len(close) >= VIN_LENGTH else vin
        if len(vin) > VIN_LENGTH:
            raise forms.ValidationError(
                gettext("A VIN has 17 characters at most. Check it on the vehicle."), code="length"
            )
        return vin

    @override
    def clean(self) -> dict[str, Any]:
        """Ask for a plate or a VIN."""
        data = super().clean() or {}
        if not (data.get("plate") or data.get("vin") or self.errors):
            self.add_error("plate", gettext("Enter the plate or the VIN."))
        return data

    def details(self) -> VehicleDetails:
        """Give what was entered."""
        data = {name: value for name, value in self.cleaned_data.items() if name != "way"}
        return VehicleDetails(**data)

    def chosen_way(self) -> str:
        """Give the way on that was chosen, if one was asked for."""
        return str(self.cleaned_data.get("way") or "")

    def offer_ways(
        self, alike: Sequence[VehicleInfo], owner: str, *, moves: bool = True, takes: bool = True
    ) -> None:
        """Say who has the plate or VIN, and offer the honest ways on.

        Parameters
        ----------
        alike : Sequence of VehicleInfo
            Vehicles that have it already.
        owner : str
            Name of the customer for whom it was entered.
        moves, takes : bool
            Whether it may change hands, and whether the known vehicle may be taken as it is.
        """
        details = self.details()
        field = "plate" if may_be_another(details, alike) else "vin"
        self.add_error(field, said(alike))
        choices = [*_ways(alike, owner, moves=moves, takes=takes)]
        if may_be_another(details, alike):
            choices.append((ANOTHER, gettext("Another vehicle: the plate has moved. Keep both.")))
        self.fields["way"].widget = forms.RadioSelect(choices=choices)


def _ways(
    alike: Sequence[VehicleInfo], owner: str, *, moves: bool, takes: bool
) -> list[tuple[str, str]]:
    """Give the ways that take a vehicle of the register."""
    ways = []
    for each in alike:
        name = re.sub(r"\s+", " ", f"{each.plate or each.vin} {each.make} {each.model}").strip()
        words = {"vehicle": name, "owner": owner, "holder": each.customer_name}
        own = not each.customer_name
        if takes and not own:
            take = gettext("It is this vehicle of {holder}: {vehicle}. Go on with {holder}.")
            ways.append((f"{EXISTING}:{each.id}", take.format(**words)))
        if moves and (own or each.customer_name != owner):
            move = gettext("{vehicle} changed hands: it belongs to {owner} now, its history stays.")
            ways.append((f"{CHANGED_HANDS}:{each.id}", move.format(**words)))
    return ways
