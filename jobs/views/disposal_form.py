"""The form of a disposal: class, receiver, paper, weight, charge, poles, and the PIN."""

import uuid
from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy

from jobs.actions.disposal import RECEIVERS, NewDisposal
from jobs.core.disposal import CLASSES
from jobs.core.reason import Blocker
from packs.forms import NumberField

__all__ = ["DisposalForm"]


class DisposalForm(forms.Form):
    """A record of a disposal."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    condition = forms.ChoiceField(
        label=gettext_lazy("Class it goes in"), widget=forms.RadioSelect, choices=()
    )
    receiver_kind = forms.ChoiceField(label=gettext_lazy("Who took it"), choices=())
    receiver = forms.CharField(label=gettext_lazy("Name of the receiver"), max_length=200)
    handed_on = forms.DateField(
        label=gettext_lazy("Handed over on"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    paper = forms.CharField(
        label=gettext_lazy("Number of the consignment paper or receipt"), max_length=100
    )
    weight_kg = NumberField(label=gettext_lazy("Weight [kg]"))
    charge_percent = NumberField(
        required=False,
        label=gettext_lazy("Charge [%]"),
        help_text=gettext_lazy("Empty where it could not be read."),
    )
    terminals = forms.BooleanField(
        required=False, label=gettext_lazy("Poles insulated against short circuit")
    )
    escort = forms.BooleanField(
        required=False,
        label=gettext_lazy("Collected with an escort before the end of its watch (manager)"),
    )
    photo = forms.FileField(
        required=False, label=gettext_lazy("Photo of the packed module, if there is one")
    )
    note = forms.CharField(
        required=False,
        max_length=1000,
        label=gettext_lazy("Reason, remark, or what was wrong in the record before"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    pin = forms.CharField(
        label=gettext_lazy("Your PIN"),
        max_length=8,
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )

    def __init__(self, *args: Any, watched: bool, with_photo: bool, **kwargs: Any) -> None:
        kwargs["initial"] = {**(kwargs.get("initial") or {}), "key": uuid.uuid4()}
        kwargs["auto_id"] = "disposal_%s"
        super().__init__(*args, **kwargs)
        for name, choices in (
            ("condition", [(code, gettext(each.title)) for code, each in CLASSES.items()]),
            ("receiver_kind", [(code, gettext(title)) for code, title in RECEIVERS.items()]),
        ):
            field = self.fields[name]
            if isinstance(field, forms.ChoiceField):
                field.choices = choices
        if not watched:
            del self.fields["escort"]
        if not with_photo:
            del self.fields["photo"]

    @property
    def ways(self) -> list[tuple[Any, Any]]:
        """Give each class with its guidance, to be chosen where it is read."""
        return list(zip(self["condition"], CLASSES.values(), strict=True))

    @property
    def written(self) -> list[Any]:
        """Give the fields in which something is typed or chosen, in order."""
        names = ("receiver_kind", "receiver", "handed_on", "paper", "weight_kg", "charge_percent",
                 "photo", "note", "pin")  # fmt: skip
        return [self[name] for name in names if name in self.fields]

    @property
    def ticks(self) -> list[Any]:
        """Give the ticks."""
        return [self[name] for name in ("terminals", "escort") if name in self.fields]

    def refuse(self, blocker: Blocker, sentence: str) -> None:
        """Show a refusal at its field; above the form where it belongs to none."""
        self.add_error(blocker.item if blocker.item in self.fields else None, sentence)

    def new_disposal(self, subject: str, photo: str) -> NewDisposal:
        """Give what was typed; only after the form was found valid."""
        data = {name: value for name, value in self.cleaned_data.items() if name != "pin"}
        return NewDisposal(**{**data, "key": str(data["key"]), "photo": photo}, subject=subject)
