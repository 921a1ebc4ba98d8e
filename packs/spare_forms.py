"""Forms of spares: one that comes in, a test, a move."""

from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from typing_extensions import override

from packs.chemistries import CHEMISTRY_WORDS
from packs.definition import CURVES
from packs.errors import Refused
from packs.forms import NumberField, OhmField
from packs.spare_tests import ABOVE, EQUAL, SpareTest
from packs.spares import IN_STOCK, QUARANTINED, RESERVED, STATES, NewSpare, SpareInfo, moves_by_hand


class SpareTestForm(forms.Form):
    """What was measured on a spare; fields not measured stay empty."""

    tested_on = forms.DateField(
        required=False,
        label=_("Tested on"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    capacity_ah = NumberField(required=False, label=_("Capacity [Ah]"))
    resistance_mohm = NumberField(required=False, label=_("Resistance over 10 s [mΩ]"))
    cell_v = NumberField(required=False, label=_("Mean cell voltage at rest [V]"))
    rest_h = NumberField(
        required=False,
        label=_("Rest before the voltage was read [h]"),
        help_text=_("Hours since current last flowed."),
    )
    insulation_ohm = OhmField(
        required=False,
        label=_("Insulation to the housing [Ω]"),
        help_text=_("k or M after the number is understood, such as 550 M."),
    )
    insulation_comparator = forms.ChoiceField(
        required=False,
        label=_("The instrument showed"),
        choices=[(EQUAL, _("this value")), (ABOVE, _("more than this value"))],
    )
    insulation_test_v = NumberField(required=False, label=_("Test voltage [V]"))

    def test(self) -> SpareTest:
        """Return what was measured."""
        fields = SpareTestForm.base_fields
        measured = {name: self.cleaned_data[name] for name in fields}
        measured["insulation_comparator"] = measured["insulation_comparator"] or EQUAL
        return SpareTest(**measured)

    def show_refusal(self, refusal: Refused) -> None:
        """Show a refusal at its field."""
        self.add_error(refusal.field if refusal.field in self.fields else None, str(refusal))


class AddedTestForm(SpareTestForm):
    """A further test of a spare that is in the register."""

    note = forms.CharField(required=False, max_length=500, label=_("How it was measured"))


class SpareForm(SpareTestForm):
    """A module that comes into the register; ``key`` makes a second sending the same spare."""

    key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    serial = forms.CharField(max_length=80, label=_("Serial"))
    part = forms.CharField(max_length=120, label=_("Part"))
    chemistry = forms.ChoiceField(
        label=_("Chemistry"), choices=[(code, _(CHEMISTRY_WORDS[code])) for code in CURVES]
    )
    cells = forms.IntegerField(min_value=1, max_value=200, label=_("Cells in series"))
    provenance = forms.CharField(
        max_length=1000,
        label=_("Where it comes from"),
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Donor vehicle or supplier, age, and what is known of its life."),
    )
    state = forms.ChoiceField(
        required=False,
        label=_("Comes into"),
        choices=[(IN_STOCK, _("stock")), (QUARANTINED, _("quarantine"))],
    )
    place = forms.CharField(required=False, max_length=120, label=_("Place"))

    field_order = ("key", "serial", "part", "chemistry", "cells", "provenance", "state", "place")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["initial"] = {"key": uuid4(), **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)

    def new_spare(self) -> NewSpare:
        """Return what was entered."""
        names = ("serial", "part", "chemistry", "cells", "provenance", "place")
        return NewSpare(
            **{name: self.cleaned_data[name] for name in names},
            test=self.test(),
            state=self.cleaned_data["state"] or IN_STOCK,
        )


class SpareMoveForm(forms.Form):
    """Another place or state for a spare."""

    state = forms.ChoiceField(label=_("State"))
    place = forms.CharField(required=False, max_length=120, label=_("Place"))
    job = forms.CharField(
        required=False,
        max_length=20,
        label=_("Number of the job it is set aside for"),
        help_text=_("Only that job can pick it then. Picking it in a job reserves it by itself."),
    )
    note = forms.CharField(required=False, max_length=500, label=_("Note"))

    def offer(self, spare: SpareInfo, *, release: bool) -> None:
        """Offer the states that may follow the present one.

        Fitting is a job's act, never one of this form; ``release`` says whether the person may
        take a spare out of quarantine.
        """
        possible = moves_by_hand(spare)
        offered = [code for code in STATES if code in possible]
        if spare.quarantined and not release:
            offered.remove(IN_STOCK)
        field = self.fields["state"]
        if isinstance(field, forms.ChoiceField):
            field.choices = [(code, gettext(STATES[code])) for code in offered]
        if spare.held or RESERVED not in offered:
            del self.fields["job"]
        if spare.quarantined:
            self.fields["note"].label = _("Why; on what grounds it leaves quarantine")
        self.initial = {
            "state": spare.state,
            "place": spare.place,
            "job": spare.reserved_for,
        }

    @override
    def clean(self) -> dict[str, Any]:
        """Keep the job only where the spare is set aside."""
        cleaned = super().clean() or {}
        if cleaned.get("state") != RESERVED:
            cleaned["job"] = ""
        return cleaned

    def show_refusal(self, refusal: Refused) -> None:
        """Show a refusal at its field."""
        self.add_error(refusal.field if refusal.field in self.fields else None, str(refusal))
