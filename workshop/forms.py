"""Forms of the shop's registers: what a browser sends, turned into ``workshop.details``.

They keep what was typed and name the field that is wrong. What needs the register to decide (a
label that is taken) is refused by the action and put on the field by ``put_refusal``.
"""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, Final

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from pydantic.fields import FieldInfo
from typing_extensions import override

from workshop import equipment, people, pins
from workshop.details import (
    CustomerDetails,
    EquipmentDetails,
    EquipmentTest,
    PersonDetails,
    ShopDetails,
    VehicleDetails,
)
from workshop.errors import Refused
from workshop.figures_text import unit_of
from workshop.ratings import GLOVE_CLASSES
from workshop.typed_numbers import read_number

FIRST_DAY: Final = date(1990, 1, 1)
LAST_DAY: Final = date(2199, 12, 31)
VIN_LENGTH: Final = 17


def put_refusal(form: forms.BaseForm, refused: Refused) -> None:
    """Put what an action refused on the field that it names."""
    form.add_error(refused.field if refused.field in form.fields else None, str(refused))


class DayField(forms.DateField):
    """A day within reason, entered with the browser's own calendar."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")

    def __init__(self, **options: Any) -> None:
        why = "Enter a day between 1990 and 2199."
        limits = [MinValueValidator(FIRST_DAY, why), MaxValueValidator(LAST_DAY, why)]
        super().__init__(input_formats=["%Y-%m-%d"], validators=limits, **options)


class NumberField(forms.CharField):
    """A number with its unit, typed with a comma or a point."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def __init__(self, *, unit: str = "", **options: Any) -> None:
        self.unit = unit
        super().__init__(max_length=40, **options)

    @override
    def clean(self, value: Any) -> Any:
        """Give the number, or None where nothing was typed."""
        typed = super().clean(value)
        try:
            return read_number(typed, is_ohm=self.unit.startswith("Ω")) if typed else None
        except ValueError:
            unit = f" in {self.unit}" if self.unit else ""
            raise forms.ValidationError(
                f"Type digits{unit}, with one comma or point and no grouping, such as 0.5.",
                code="number",
            ) from None


class NumbersField(NumberField):
    """Several numbers with one unit, parted by semicolons or spaces."""

    @override
    def clean(self, value: Any) -> Any:
        """Give the list of numbers."""
        typed = forms.CharField.clean(self, value)
        return [super(NumbersField, self).clean(each) for each in typed.replace(";", " ").split()]


class PinField(forms.CharField):
    """A PIN; never printed back."""

    def __init__(self, **options: Any) -> None:
        pad = {"inputmode": "numeric", "autocomplete": "off", "maxlength": pins.LONGEST}
        super().__init__(widget=forms.PasswordInput(attrs=pad), strip=True, **options)


# ---------------------------------------------------------------- people


class PinForm(forms.Form):
    """The PIN at sign-on."""

    pin = PinField(label="PIN", max_length=pins.LONGEST)


class NewPinForm(forms.Form):
    """A new PIN, typed twice by the person whose it is."""

    pin = PinField(label="New PIN", help_text="4 to 8 digits. Nobody else types it.")
    pin_again = PinField(label="New PIN once more")

    def clean_pin_again(self) -> str:
        """Refuse a second PIN that differs from the first."""
        again = str(self.cleaned_data["pin_again"])
        if again != self.cleaned_data.get("pin", again):
            raise forms.ValidationError("The two PINs differ. Type both again.", code="differ")
        return again


class OwnPinForm(NewPinForm):
    """A new PIN for oneself, with the old one."""

    pin_now = PinField(label="PIN so far")
    field_order = ("pin_now", "pin", "pin_again")


class PersonForm(forms.Form):
    """A person of the shop."""

    display_name = forms.CharField(label="Name", max_length=120)
    short_name = forms.CharField(
        label="Short name", max_length=24, help_text="Shown on the sign-on tile and beside entries."
    )
    role = forms.ChoiceField(label="Role", choices=tuple(people.ROLES.items()))

    def details(self) -> PersonDetails:
        """Give what was entered."""
        return PersonDetails(**self.cleaned_data)


class FirstManagerForm(NewPinForm):
    """The first person, who is a manager."""

    display_name = forms.CharField(label="Your name", max_length=120)
    short_name = forms.CharField(label="Short name", max_length=24)
    field_order = ("display_name", "short_name", "pin", "pin_again")

    def details(self) -> PersonDetails:
        """Give what was entered."""
        data = self.cleaned_data
        return PersonDetails(
            display_name=data["display_name"], short_name=data["short_name"], role=people.MANAGER
        )


class QualificationForm(forms.Form):
    """A qualification to enter or renew."""

    code = forms.ChoiceField(label="Qualification", choices=tuple(people.QUALIFICATIONS.items()))
    expires_on = DayField(
        label="Valid until", required=False, help_text="Leave empty where it does not expire."
    )
    certificate = forms.CharField(label="Certificate", max_length=200, required=False)


# ---------------------------------------------------------------- customers and vehicles


class CustomerForm(forms.Form):
    """A customer."""

    name = forms.CharField(label="Name", max_length=120)
    phone = forms.CharField(label="Telephone", max_length=40, required=False)
    email = forms.EmailField(label="Mail", max_length=200, required=False)
    address = forms.CharField(
        label="Address", max_length=500, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    consent = forms.BooleanField(
        label="Agrees that these data are kept for the job", required=False
    )
    note = forms.CharField(
        label="Note", max_length=1000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    def details(self, now: datetime, *, consent_before: datetime | None = None) -> CustomerDetails:
        """Give what was entered; a consent given earlier keeps its time."""
        data = dict(self.cleaned_data)
        agreed = data.pop("consent")
        return CustomerDetails(**data, consent_at=(consent_before or now) if agreed else None)


class VehicleForm(forms.Form):
    """A vehicle; a plate or VIN that is known already has to be confirmed."""

    plate = forms.CharField(label="Plate", max_length=20, required=False)
    vin = forms.CharField(
        label="VIN or frame number",
        max_length=VIN_LENGTH,
        required=False,
        validators=[
            RegexValidator(
                r"\A[A-HJ-NPR-Za-hj-npr-z0-9-]*\Z",
                "A VIN has digits and letters without I, O and Q. Check it on the vehicle.",
            )
        ],
    )
    make = forms.CharField(label="Make", max_length=60, required=False)
    model = forms.CharField(label="Model", max_length=60, required=False)
    year = forms.IntegerField(label="Model year", min_value=1950, max_value=2199, required=False)
    body = forms.CharField(label="Body", max_length=60, required=False)
    same_is_right = forms.BooleanField(
        label="This is another vehicle, enter it all the same", required=False
    )

    def clean_plate(self) -> str:
        """Write plates in capitals with single spaces."""
        return " ".join(str(self.cleaned_data["plate"]).upper().split())

    def clean_vin(self) -> str:
        """Write VINs in capitals."""
        return str(self.cleaned_data["vin"]).upper()

    @override
    def clean(self) -> dict[str, Any]:
        """Ask for a plate or a VIN."""
        data = super().clean() or {}
        if not (data.get("plate") or data.get("vin") or self.errors):
            self.add_error("plate", "Enter the plate or the VIN.")
        return data

    def identity(self) -> tuple[str, str]:
        """Give plate and VIN, by which a vehicle is known."""
        return self.cleaned_data["plate"], self.cleaned_data["vin"]

    def details(self) -> VehicleDetails:
        """Give what was entered."""
        data = {name: value for name, value in self.cleaned_data.items() if name != "same_is_right"}
        return VehicleDetails(**data)


# ---------------------------------------------------------------- equipment


class LastTestForm(forms.Form):
    """The last test or calibration of a piece."""

    tested_on = DayField(label="Tested or calibrated on", required=False)
    due_on = DayField(
        label="Due on",
        required=False,
        help_text="As on the certificate. Left empty: 12 months from the test, a shop default.",
    )
    certificate = forms.CharField(label="Certificate", max_length=200, required=False)
    issued = forms.BooleanField(label="Handed out to a person", required=False)

    def __init__(self, *args: Any, kind: str, **options: Any) -> None:
        super().__init__(*args, **options)
        if kind == "gloves":
            self.fields[
                "due_on"
            ].help_text = "Left empty: 6 months from the test once handed out, 12 months in store."
        else:
            del self.fields["issued"]

    def test(self) -> EquipmentTest:
        """Give what was entered."""
        names = ("tested_on", "due_on", "certificate", "issued")
        return EquipmentTest(**{n: self.cleaned_data[n] for n in names if n in self.fields})


class EquipmentForm(LastTestForm):
    """A piece of equipment of one kind, with a field for each of the kind's ratings."""

    label = forms.CharField(label="Label", max_length=20, help_text="As written on it, like D-03.")
    serial = forms.CharField(label="Serial number", max_length=60, required=False)

    def __init__(self, *args: Any, kind: str, **options: Any) -> None:
        super().__init__(*args, kind=kind, **options)
        self.kind = kind
        self.ratings = equipment.KINDS[kind].ratings.model_fields
        for name, rating in self.ratings.items():
            self.fields[name] = _rating_field(name, rating)
        self.order_fields(("label", "serial", *self.ratings, "tested_on", "due_on"))

    def details(self) -> EquipmentDetails:
        """Give what was entered; ratings left empty are left out."""
        data = self.cleaned_data
        given = {name: data[name] for name in self.ratings if data[name] not in (None, "")}
        if "cycle_limit" in given:
            given["cycle_limit"] = round(given["cycle_limit"])
        return EquipmentDetails(
            kind=self.kind,
            label=data["label"],
            serial=data["serial"],
            ratings=given,
            test=self.test(),
        )


def _rating_field(name: str, rating: FieldInfo) -> forms.Field:
    """Make the form's field for one rating, from its type and the unit in its name."""
    unit = unit_of(name)[0]
    label = f"{rating.title} [{unit}]" if unit else str(rating.title)
    needed = rating.is_required() and name != "max_dc_v"
    if name == "glove_class":
        return forms.ChoiceField(
            label=label, choices=[(each, f"Class {each}") for each in GLOVE_CLASSES]
        )
    if rating.annotation is bool:
        return forms.BooleanField(label=label, required=False)
    if rating.annotation is str:
        return forms.CharField(label=label, max_length=60, required=needed)
    if rating.annotation in {float, int}:
        help_text = "Left empty: what the class allows." if name == "max_dc_v" else ""
        return NumberField(label=label, unit=unit, required=needed, help_text=help_text)
    return NumbersField(label=label, unit=unit, help_text="Part several by spaces.")


# ---------------------------------------------------------------- the shop


class ShopForm(forms.Form):
    """What the shop says about itself."""

    name = forms.CharField(label="Name of the workshop", max_length=120)
    address = forms.CharField(
        label="Address", max_length=500, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    phone = forms.CharField(label="Telephone", max_length=40, required=False)
    email = forms.EmailField(label="Mail", max_length=200, required=False)
    number_prefix = forms.RegexField(
        label="Job numbers begin with",
        regex=r"\A[A-Z0-9]{1,8}\Z",
        error_messages={"invalid": "1 to 8 capital letters or digits."},
    )
    time_zone = forms.CharField(label="Time zone", max_length=64, help_text="Like Europe/Dublin.")
    currency = forms.RegexField(
        label="Currency",
        regex=r"\A[A-Z]{3}\Z",
        error_messages={"invalid": "Three capital letters, such as EUR."},
    )
    warranty_text = forms.CharField(
        label="Warranty wording in the report",
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 5}),
    )

    def details(self) -> ShopDetails:
        """Give what was entered."""
        return ShopDetails(**self.cleaned_data)


class LimitForm(forms.Form):
    """The shop's own value of a limit."""

    value = NumberField(label="Value")
    source = forms.CharField(
        label="Source", max_length=300, required=False, help_text="Empty: shop default, no source."
    )
    note = forms.CharField(label="Note", max_length=300, required=False)


def initial_of(details: Any, names: Mapping[str, Any]) -> dict[str, Any]:
    """Give the values that a form starts with, taken from stored data by name."""
    return {name: getattr(details, name) for name in names if hasattr(details, name)}


def number_text(value: float) -> str:
    """Write a number as it is typed into a field."""
    return f"{value:f}".rstrip("0").rstrip(".") if value % 1 else f"{value:.0f}"
