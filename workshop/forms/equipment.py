"""Forms about equipment: a new piece, a correction, a test with its certificate."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from pydantic.fields import FieldInfo
from typing_extensions import override

from workshop import equipment
from workshop.details import EquipmentDetails, EquipmentTest
from workshop.figures_text import unit_of
from workshop.forms.fields import (
    CertificateField,
    DayField,
    GroupedForm,
    NumberField,
    NumbersField,
    Words,
    number_text,
)
from workshop.ratings import GLOVE_CLASSES


class KindForm(GroupedForm):
    """A form whose fields depend on the kind of equipment."""

    def __init__(self, *args: Any, kind: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.kind = kind


class LastTestForm(KindForm):
    """The last test or calibration of a piece."""

    tested_on = DayField(label=_("Tested or calibrated on"), required=False)
    due_on = DayField(label=_("Due on"), required=False)
    certificate = forms.CharField(label=_("Certificate number"), max_length=200, required=False)
    file = CertificateField()
    issued = forms.BooleanField(label=_("Handed out to a person"), required=False)

    GROUPS = ((_("Test or calibration"), ("tested_on", "due_on", "certificate", "file", "issued")),)

    def __init__(self, *args: Any, kind: str, **options: Any) -> None:
        super().__init__(*args, kind=kind, **options)
        self.fields["due_on"].help_text = _due_words(kind)
        self.fields["tested_on"].required = kind == "gloves" or equipment.KINDS[kind].dated
        if kind != "gloves":
            del self.fields["issued"]

    def test(self) -> EquipmentTest:
        """Give what was entered."""
        names = ("tested_on", "due_on", "certificate", "issued")
        return EquipmentTest(**{n: self.cleaned_data[n] for n in names if n in self.fields})


def _due_words(kind: str) -> str:
    """Say where the due date comes from when the field is left empty."""
    interval = equipment.interval_of(kind, issued=True)
    if interval is None:
        return gettext("Only where the maker or a rule names a day.")
    if kind == "gloves":
        return gettext(
            "Left empty: 6 months from the test once handed out, 12 months in store"
            " ({source}). An earlier day may be entered, not a later one."
        ).format(source=interval.source)
    return gettext(
        "Left empty: {months} months from the test ({source})."
        " An earlier day may be entered, not a later one."
    ).format(months=interval.months, source=gettext(interval.source))


class RatingsForm(KindForm):
    """Label, serial and the ratings of one kind."""

    label = forms.CharField(
        label=_("Label"), max_length=20, help_text=_("As written on it, like D-03.")
    )
    serial = forms.CharField(label=_("Serial number"), max_length=60, required=False)

    def __init__(self, *args: Any, kind: str, **options: Any) -> None:
        super().__init__(*args, kind=kind, **options)
        self.ratings = equipment.KINDS[kind].ratings.model_fields
        for name, rating in self.ratings.items():
            self.fields[name] = _rating_field(name, rating)
        self.order_fields(("label", "serial", *self.ratings))

    @override
    def parted(self) -> tuple[tuple[Words, tuple[str, ...]], ...]:
        """Give the headings with the names of the fields under each."""
        piece = (_("The piece"), ("label", "serial"))
        return (piece, (_("Ratings"), tuple(self.ratings)), *self.GROUPS)

    def details(self) -> EquipmentDetails:
        """Give what was entered; ratings left empty are left out."""
        data = self.cleaned_data
        given = {name: data[name] for name in self.ratings if data[name] not in (None, "")}
        if "cycle_limit" in given:
            given["cycle_limit"] = round(given["cycle_limit"])
        return EquipmentDetails(
            kind=self.kind, label=data["label"], serial=data["serial"], ratings=given
        )


class EquipmentForm(RatingsForm, LastTestForm):
    """A new piece of equipment with its last test."""

    def entered(self) -> EquipmentDetails:
        """Give what was entered, the last test with it."""
        return replace(self.details(), test=self.test())


class CorrectionForm(RatingsForm):
    """A correction of label, serial or ratings, with why."""

    why = forms.CharField(
        label=_("Why"), max_length=300, help_text=_("Such as: typed from the wrong certificate.")
    )

    GROUPS = ((_("Correction"), ("why",)),)


def ratings_as_typed(ratings: Mapping[str, Any]) -> dict[str, Any]:
    """Write stored ratings as they are typed into the fields."""
    return {name: _as_typed(value) for name, value in ratings.items()}


def _as_typed(value: Any) -> Any:
    if isinstance(value, list):
        return "; ".join(number_text(each) for each in value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    return number_text(value)


def _rating_field(name: str, rating: FieldInfo) -> forms.Field:
    """Make the form's field for one rating, from its type and the unit in its name."""
    unit = unit_of(name)[0]
    title = gettext(str(rating.title))
    label = f"{title} [{unit}]" if unit else title
    needed = rating.is_required() and name != "max_dc_v"
    if name == "glove_class":
        classes = [(each, gettext("Class {name}").format(name=each)) for each in GLOVE_CLASSES]
        return forms.ChoiceField(label=label, choices=classes)
    if rating.annotation is bool:
        return forms.BooleanField(label=label, required=False)
    if rating.annotation is str:
        return forms.CharField(label=label, max_length=60, required=needed)
    if rating.annotation in {float, int}:
        help_text = gettext("Left empty: what the class allows.") if name == "max_dc_v" else ""
        return NumberField(label=label, unit=unit, required=needed, help_text=help_text)
    return NumbersField(label=label, unit=unit, help_text=gettext("Part several by spaces."))
