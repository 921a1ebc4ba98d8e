"""Forms about the shop itself: what it prints about itself, and its limits."""

from decimal import Decimal
from typing import Final

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from workshop import languages
from workshop.details import ShopDetails
from workshop.forms.fields import GroupedForm, LanguageField, NumberField

MOST_TAX_PERCENT: Final = Decimal(100)
TORQUES: Final = (("", "N·m"), ("ftlb", "ft·lb"))
PRESSURES: Final = (("", _("kPa, small ones in Pa")), ("mbar", "mbar"), ("psi", "psi"))
DISTANCES: Final = (("", "km"), ("mi", _("miles")))


class ShopForm(GroupedForm):
    """What the shop says about itself."""

    name = forms.CharField(label=_("Name of the workshop"), max_length=120)
    address = forms.CharField(
        label=_("Address"),
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    phone = forms.CharField(label=_("Telephone"), max_length=40, required=False)
    email = forms.EmailField(label=_("Mail"), max_length=200, required=False)
    number_prefix = forms.RegexField(
        label=_("Job numbers begin with"),
        regex=r"\A[A-Z0-9]{1,8}\Z",
        error_messages={"invalid": _("1 to 8 capital letters or digits.")},
    )
    time_zone = forms.CharField(
        label=_("Time zone"),
        max_length=64,
        help_text=_("Like Europe/Dublin. It decides when a day begins and ends."),
    )
    currency = forms.RegexField(
        label=_("Currency"),
        regex=r"\A[A-Z]{3}\Z",
        error_messages={"invalid": _("Three capital letters, such as EUR.")},
    )
    tax_percent = NumberField(
        label=_("Tax on quotations"),
        unit="%",
        required=False,
        help_text=_("In percent, where a line says nothing else. Empty or 0: no tax is shown."),
    )
    warranty_text = forms.CharField(
        label=_("Warranty wording in the report"),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 5}),
    )

    tax_number = forms.CharField(
        label=_("Tax number line on papers"),
        max_length=120,
        required=False,
        help_text=_("Printed as written, such as VAT no. and its number."),
    )
    opening_hours = forms.CharField(
        label=_("Opening hours"),
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    torque_unit = forms.ChoiceField(label=_("Torque"), choices=TORQUES, required=False)
    pressure_unit = forms.ChoiceField(label=_("Pressure"), choices=PRESSURES, required=False)
    distance_unit = forms.ChoiceField(
        label=_("Distance"),
        choices=DISTANCES,
        required=False,
        help_text=_(
            "What is shown and typed from now on. The record keeps N·m, Pa and km and says in "
            "which unit each number was typed, so nothing entered before changes."
        ),
    )
    language = LanguageField(label=_("Language of screens and papers"), shops=False)

    GROUPS = (
        (
            _("As customers see it"),
            ("name", "address", "phone", "email", "opening_hours", "tax_number"),
        ),
        (_("Numbers, days and money"), ("number_prefix", "time_zone", "currency", "tax_percent")),
        (_("Units"), ("torque_unit", "pressure_unit", "distance_unit")),
        (_("Language"), ("language",)),
        (_("Report"), ("warranty_text",)),
    )

    def clean_tax_percent(self) -> Decimal:
        """Take an empty field as no tax, and two decimals at most."""
        percent = Decimal(str(self.cleaned_data["tax_percent"] or 0))
        if percent > MOST_TAX_PERCENT or percent != round(percent, 2):
            raise forms.ValidationError(
                gettext("0 to 100 percent, with two decimals at most."), code="tax_percent"
            )
        return percent

    def clean_language(self) -> str:
        """Take English where nothing is chosen."""
        return str(self.cleaned_data["language"] or languages.FIRST)

    def details(self) -> ShopDetails:
        """Give what was entered."""
        return ShopDetails(**self.cleaned_data)


class LogoForm(forms.Form):
    """The shop's logo as a picture."""

    file = forms.FileField(
        label=_("Logo"),
        allow_empty_file=True,
        help_text=_("PNG, JPEG or WebP, at most 1 MB. Dark on white prints best."),
        widget=forms.FileInput(attrs={"accept": "image/png,image/jpeg,image/webp"}),
    )


class LimitForm(forms.Form):
    """The shop's own value of a limit."""

    value = NumberField(label=_("Value"))
    source = forms.CharField(
        label=_("Source"),
        max_length=300,
        required=False,
        help_text=_("Empty: shop default, no source."),
    )
    note = forms.CharField(label=_("Note"), max_length=300, required=False)
