"""Forms about the people of the shop: PINs, roles, qualifications."""

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from workshop import passwords, people, pins
from workshop.details import PersonDetails
from workshop.forms.fields import CertificateField, DayField, LanguageField, PinField

ROLES = tuple(people.ROLES.items())
QUALIFICATIONS = tuple(people.QUALIFICATIONS.items())


def _hidden(complete: str = "current-password") -> forms.PasswordInput:
    """Give a field that shows no letters."""
    return forms.PasswordInput(attrs={"autocomplete": complete})


class PinForm(forms.Form):
    """The PIN at sign-on."""

    pin = PinField(label=_("PIN"), max_length=pins.LONGEST)


class NewPinForm(forms.Form):
    """A new PIN, typed twice by the person whose it is."""

    pin = PinField(label=_("New PIN"), help_text=_("4 to 8 digits. Nobody else types it."))
    pin_again = PinField(label=_("New PIN once more"))

    def clean_pin_again(self) -> str:
        """Refuse a second PIN that differs from the first."""
        again = str(self.cleaned_data["pin_again"])
        if again != self.cleaned_data.get("pin", again):
            raise forms.ValidationError(
                gettext("The two PINs differ. Type both again."), code="differ"
            )
        return again


class OwnPinForm(NewPinForm):
    """A new PIN for oneself, with the old one."""

    pin_now = PinField(label=_("PIN so far"))
    field_order = ("pin_now", "pin", "pin_again")


class OwnPasswordForm(forms.Form):
    """A new password for oneself, with the old one, or the PIN where there is none yet."""

    current = forms.CharField(label=_("PIN"), max_length=passwords.LONGEST, widget=_hidden())
    password = forms.CharField(
        label=_("New password"),
        max_length=passwords.LONGEST,
        strip=False,
        widget=_hidden("new-password"),
        help_text=_("At least 10 characters; several words are easy to remember."),
    )
    password_again = forms.CharField(
        label=_("New password once more"),
        max_length=passwords.LONGEST,
        strip=False,
        widget=_hidden("new-password"),
    )

    def clean_password_again(self) -> str:
        """Refuse a second password that differs from the first."""
        again = str(self.cleaned_data["password_again"])
        if again != self.cleaned_data.get("password", again):
            raise forms.ValidationError(
                gettext("The two passwords differ. Type both again."), code="differ"
            )
        return again


class LanguageForm(forms.Form):
    """The language of one's own screens."""

    language = LanguageField(label=_("Language of my screens"))


class PersonForm(forms.Form):
    """A person of the shop."""

    display_name = forms.CharField(label=_("Name"), max_length=120)
    short_name = forms.CharField(
        label=_("Short name"),
        max_length=24,
        help_text=_("Shown on the sign-on tile and beside entries."),
    )
    role = forms.ChoiceField(
        label=_("Role"), choices=lambda: [(code, gettext(word)) for code, word in ROLES]
    )

    language = LanguageField(label=_("Language of their screens"))

    def details(self) -> PersonDetails:
        """Give what was entered."""
        return PersonDetails(**self.cleaned_data)


class FirstManagerForm(NewPinForm):
    """The first person, who is a manager."""

    display_name = forms.CharField(label=_("Your name"), max_length=120)
    short_name = forms.CharField(label=_("Short name"), max_length=24)
    field_order = ("display_name", "short_name", "pin", "pin_again")

    def details(self) -> PersonDetails:
        """Give what was entered."""
        data = self.cleaned_data
        return PersonDetails(
            display_name=data["display_name"], short_name=data["short_name"], role=people.MANAGER
        )


class QualificationForm(forms.Form):
    """A qualification to enter or renew."""

    code = forms.ChoiceField(
        label=_("Qualification"),
        choices=lambda: [(code, gettext(word)) for code, word in QUALIFICATIONS],
    )
    expires_on = DayField(
        label=_("Valid until"),
        required=False,
        help_text=_("Leave empty where it does not expire."),
    )
    certificate = forms.CharField(label=_("Certificate number"), max_length=200, required=False)
    file = CertificateField()
