"""Forms about the devices of the shop."""

from django import forms
from django.utils.translation import gettext_lazy as _

NAME_LETTERS = 60
CODE_LETTERS = 20
"""Longer than a code, for spaces and dashes."""


class DeviceNameForm(forms.Form):
    """What the shop calls a device."""

    name = forms.CharField(
        label=_("Name of this device"),
        max_length=NAME_LETTERS,
        help_text=_("As people say it, such as Tablet bay 2 or Front desk."),
    )


class EnrolForm(DeviceNameForm):
    """A code that takes a device in, and its name."""

    code = forms.CharField(
        label=_("Code"),
        max_length=CODE_LETTERS,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
        help_text=_("Eight letters and digits that a manager made on the page Devices."),
    )
    field_order = ("code", "name")
