"""The booking form and two small ones; what a job records goes through the door, not here."""

import uuid
from datetime import date, timedelta
from typing import Any, ClassVar, Final

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from typing_extensions import override

from jobs.views.desk_forms import FactsFields, people_choices
from packs import queries as packs
from workshop import queries as shop
from workshop.forms import DayField

__all__ = ["BookingForm", "EraseForm", "WithdrawForm"]

OTHER: Final = "other"
QUICK_DAYS: Final = {"today": 0, "tomorrow": 1, "week": 7}
"""Quick choices of a day and how many days ahead each lies."""

SERIALS_OFFERED: Final = 100


class BookingForm(FactsFields):
    """When what arrives and when it is promised, who pays; who and what is beside it."""

    DAYS: ClassVar = (
        ("today", _("Today")),
        ("tomorrow", _("Tomorrow")),
        ("week", _("In a week")),
        (OTHER, _("Other day")),
    )

    key = forms.UUIDField(widget=forms.HiddenInput)
    arrives = forms.ChoiceField(
        label=_("Arrives"), choices=DAYS, required=False, widget=forms.RadioSelect
    )
    arrives_on = DayField(label=_("Arrives on"), required=False)
    promised = forms.ChoiceField(
        label=_("Promised"),
        choices=(("", _("Not yet")), *DAYS),
        required=False,
        widget=forms.RadioSelect,
    )
    promised_on = DayField(label=_("Promised for"), required=False)
    pack_serial = forms.CharField(
        label=_("Serial of the pack"),
        required=False,
        max_length=80,
        widget=forms.TextInput(attrs={"list": "known-packs", "autocomplete": "off"}),
        help_text=_("As on its plate; needed where it arrives alone."),
    )
    pack_slug = forms.ChoiceField(label=_("Kind of pack"), required=False)
    person = forms.ChoiceField(label=_("Assigned to"), required=False)
    another = forms.BooleanField(
        label=_("Book another job for this vehicle all the same"), required=False
    )

    def __init__(self, *args: Any, today: date, is_another: bool = False, **options: Any) -> None:
        first = {"key": uuid.uuid4(), "arrives": "today", "promised": "", "another": is_another}
        options.setdefault("initial", first)
        super().__init__(*args, **options)
        self.today = today
        kinds = [(each.slug, each.name) for each in packs.packs_list()]
        slug = self.fields["pack_slug"]
        if isinstance(slug, forms.ChoiceField):
            slug.choices = [("", gettext("not known yet")), *kinds]
        person = self.fields["person"]
        if isinstance(person, forms.ChoiceField):
            person.choices = people_choices(shop.people())

    def of_the_desk(self) -> tuple[BoundField, ...]:
        """Give the fields that the desk keeps beside the record."""
        return tuple(self[name] for name in (*self.FACTS, "person"))

    def desk_is_faulty(self) -> bool:
        """Tell whether one of them has to be mended."""
        return any(field.errors for field in self.of_the_desk())

    @property
    def known_serials(self) -> tuple[tuple[str, str], ...]:
        """Serials of packs that the shop has met, each with its kind."""
        met = packs.physical_packs()[:SERIALS_OFFERED]
        return tuple((each.serial, each.kind_name) for each in met)

    def _day(self, quick: str, day: str) -> date | None:
        """Give the day that was meant; a day alone counts, and a quick choice goes first."""
        chosen = self.cleaned_data.get(quick)
        if chosen in QUICK_DAYS:
            return self.today + timedelta(days=QUICK_DAYS[str(chosen)])
        meant = self.cleaned_data.get(day)
        if chosen == OTHER and meant is None and day not in self.errors:
            self.add_error(day, gettext("Enter the day, or choose one of the others."))
        return meant

    @override
    def clean(self) -> dict[str, Any]:
        """Turn quick choices into days."""
        data = super().clean() or {}
        arrives, promised = self._day("arrives", "arrives_on"), self._day("promised", "promised_on")
        return {**data, "arrives_on": arrives, "promised_on": promised}


class WithdrawForm(forms.Form):
    """Why a piece of equipment is taken out of use."""

    reason = forms.CharField(label=_("Reason"), max_length=300)


class EraseForm(forms.Form):
    """That a customer asked for the erasing."""

    asked = forms.BooleanField(
        label=_("The customer asked for it, and it is clear that it was the customer")
    )
