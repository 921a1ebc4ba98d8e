"""The forms of a watch: a check with as many points as were measured before, and its end.

Numbers and words are read by the action, so that a page and a played job are refused alike.
"""

import re
import uuid
from collections.abc import Mapping, Sequence
from typing import Any, Final

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext, gettext_lazy

from jobs.actions.quarantine import ENDINGS, Ending, NewCheck
from jobs.core.reason import Blocker
from jobs.core.watch import Sign
from jobs.core.watch_check import MOST_POINTS, TypedCheck

__all__ = ["CheckForm", "EndForm"]

USUAL_POINTS: Final = (
    gettext_lazy("Positive terminal"),
    gettext_lazy("Negative terminal"),
    gettext_lazy("Top, middle"),
    gettext_lazy("Left side"),
    gettext_lazy("Right side"),
)
"""Names offered where none was measured before."""
SPARE_ROWS: Final = 2
SIGNS: Final = (
    (Sign.SMOKE, gettext_lazy("Smoke")),
    (Sign.HISSING, gettext_lazy("Hissing")),
    (Sign.SMELL, gettext_lazy("Smell")),
    (Sign.SWELLING, gettext_lazy("Swelling")),
    (Sign.FLUID, gettext_lazy("Fluid")),
)
_ROW: Final = re.compile(r"point_([0-9]{1,2})_c")


class _Refusable(forms.Form):
    """A form whose refusals are shown at the field they belong to."""

    def refuse(self, blocker: Blocker, sentence: str) -> None:
        """Show a refusal at its field; above the form where it belongs to none."""
        self.add_error(blocker.item if blocker.item in self.fields else None, sentence)


def _number(label: str) -> forms.CharField:
    attributes = {"inputmode": "decimal", "autocomplete": "off", "size": 7}
    widget = forms.TextInput(attrs=attributes)
    return forms.CharField(label=label, required=False, max_length=60, widget=widget)


class CheckForm(_Refusable):
    """A check: the air around, the points, what was noticed, and a note."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    ambient_c = _number("")
    signs = forms.MultipleChoiceField(
        label=gettext_lazy("What is seen, heard or smelt"),
        choices=SIGNS,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    note = forms.CharField(
        label=gettext_lazy("Note"),
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    corrects = forms.CharField(required=False, max_length=36)

    def __init__(self, data: Mapping[str, Any] | None = None, *, names: Sequence[str] = ()) -> None:
        super().__init__(data, initial={"key": uuid.uuid4()}, auto_id="check_%s")
        self.rows = self._rows(names) if data is None else self._sent_rows(data)
        self.fields["ambient_c"].label = gettext_lazy("Air around, in the shade")
        for place in range(self.rows):
            label = gettext("Point {number}").format(number=place + 1)
            name = forms.CharField(label=label, required=False, max_length=200)
            self.fields[f"point_{place}_name"] = name
            self.fields[f"point_{place}_c"] = _number(gettext("Temperature"))

    def _rows(self, names: Sequence[str]) -> int:
        """Offer the names of the last check, and empty rows for further ones."""
        known = [str(name) for name in names or USUAL_POINTS][:MOST_POINTS]
        self.initial.update({f"point_{place}_name": name for place, name in enumerate(known)})
        return min(len(known) + SPARE_ROWS, MOST_POINTS)

    @staticmethod
    def _sent_rows(data: Mapping[str, Any]) -> int:
        places = [int(match[1]) for match in map(_ROW.fullmatch, data) if match]
        return min(max(places, default=0) + 1, MOST_POINTS)

    @property
    def air(self) -> BoundField:
        """Give the field of the air around."""
        return self["ambient_c"]

    @property
    def point_rows(self) -> list[tuple[BoundField, BoundField]]:
        """Give the fields of each point: its name and its temperature."""
        return [(self[f"point_{p}_name"], self[f"point_{p}_c"]) for p in range(self.rows)]

    def new_check(self, watch_id: str) -> NewCheck:
        """Give what was typed; only after the form was found valid."""
        data = self.cleaned_data
        points = tuple(
            (data[f"point_{place}_name"], data[f"point_{place}_c"]) for place in range(self.rows)
        )
        typed = TypedCheck(
            ambient_c=data["ambient_c"],
            points=points,
            signs=tuple(data["signs"]),
            note=data["note"],
        )
        return NewCheck(
            key=str(data["key"]), watch_id=watch_id, typed=typed, corrects=data["corrects"]
        )


class EndForm(_Refusable):
    """The end of a watch: where the module goes, to whom, why, and the PIN of who says so."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    how = forms.ChoiceField(
        label=gettext_lazy("Where the module goes"), widget=forms.RadioSelect, choices=()
    )
    to = forms.CharField(
        label=gettext_lazy("Place, carrier or person"),
        max_length=200,
        help_text=gettext_lazy("Where it is kept, who takes it: with the number of the receipt."),
    )
    note = forms.CharField(
        label=gettext_lazy("Reason or remark"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=gettext_lazy(
            "Needed for a hand-over before its time, and where a check was missed."
        ),
    )
    pin = forms.CharField(
        label=gettext_lazy("Your PIN"),
        max_length=8,
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )

    def __init__(self, data: Mapping[str, Any] | None = None, *, offered: Sequence[str]) -> None:
        super().__init__(data, initial={"key": uuid.uuid4()}, auto_id="end_%s")
        field = self.fields["how"]
        if isinstance(field, forms.ChoiceField):
            field.choices = [(how, gettext(ENDINGS[how])) for how in offered]

        if len(offered) == 1:
            self.initial["how"] = offered[0]

    @property
    def written(self) -> list[BoundField]:
        """Give the fields in which something is typed."""
        return [self["to"], self["note"], self["pin"]]

    def ending(self, watch_id: str) -> Ending:
        """Give what was chosen; only after the form was found valid."""
        data = self.cleaned_data
        return Ending(
            key=str(data["key"]),
            watch_id=watch_id,
            how=data["how"],
            to=data["to"],
            note=data["note"],
        )
