"""Forms of packs as things: one to enter, and what the register says of one to correct."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from packs.errors import Refused


class UnitForm(forms.Form):
    """A pack that can be touched: serial, kind where it is known, and a note."""

    serial = forms.CharField(max_length=80, label=_("Serial"), help_text=_("As on its plate."))
    slug = forms.ChoiceField(
        required=False,
        label=_("Kind"),
        help_text=_("Leave it open until the label was compared with a definition."),
    )
    note = forms.CharField(
        required=False,
        max_length=500,
        label=_("Note"),
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("What tells it apart: swapped from another vehicle, earlier repair."),
    )

    def __init__(self, *args: Any, kinds: tuple[tuple[str, str], ...] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["slug"]
        if isinstance(field, forms.ChoiceField):
            field.choices = [("", _("not known yet")), *kinds]

    def show_refusal(self, refusal: Refused) -> None:
        """Show a refusal at its field."""
        self.add_error(refusal.field if refusal.field in self.fields else None, str(refusal))


class UnitCorrectionForm(UnitForm):
    """What the register says of a pack, and why it is changed."""

    reason = forms.CharField(
        required=False,
        max_length=500,
        label=_("Reason"),
        help_text=_("Needed where serial or a known kind is corrected; it stays in the history."),
    )
