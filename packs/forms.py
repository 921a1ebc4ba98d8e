"""Forms of the registers of this app: a definition to send, a spare to enter, test or move.

Numbers are read by one rule: one separator, always decimal, no grouping; k and M only where
the unit is ohm. What is entered goes to packs/actions as plain data.
"""

import re
from typing import Any, Final

from django import forms
from django.core.exceptions import ValidationError
from typing_extensions import override

from packs.definition import CURVES, DefinitionRefused, from_toml
from packs.definition_text import SIZE_CAP_BYTES
from packs.errors import Refused
from packs.sheet import CHEMISTRY_WORDS
from packs.spares import (
    ABOVE,
    EQUAL,
    FITTED,
    IN_STOCK,
    MOVES,
    STATES,
    NewSpare,
    SpareInfo,
    SpareTest,
)

_NUMBER: Final = re.compile(r"[0-9]{1,12}([.,][0-9]{1,9})?")
_OHM: Final = re.compile(r"(?P<number>[0-9]{1,12}([.,][0-9]{1,9})?)\s*(?P<prefix>[kM]?)")
_PREFIXES: Final = {"": 1.0, "k": 1e3, "M": 1e6}


class NumberField(forms.CharField):
    """A number above zero, as a person types it."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    @override
    def to_python(self, value: Any) -> Any:
        """Read the number; None where nothing was typed."""
        text = super().to_python(value)
        if not text:
            return None
        if not _NUMBER.fullmatch(text):
            raise ValidationError("Write a number, such as 62.5, without spaces or grouping.")
        return float(text.replace(",", "."))


class OhmField(NumberField):
    """A resistance, with k or M after it where that is easier."""

    @override
    def to_python(self, value: Any) -> Any:
        """Read the resistance [ohm]; None where nothing was typed."""
        text = forms.CharField.to_python(self, value)
        if not text:
            return None
        match = _OHM.fullmatch(text)
        if match is None:
            raise ValidationError("Write ohms, such as 550000, 550 k or 550 M.")
        return float(match["number"].replace(",", ".")) * _PREFIXES[match["prefix"]]


class DefinitionForm(forms.Form):
    """A pack definition, as a file or as text."""

    file = forms.FileField(
        required=False, label="File", help_text="A definition in TOML. It replaces the text below."
    )
    text = forms.CharField(
        required=False,
        strip=False,
        label="Definition",
        widget=forms.Textarea(attrs={"rows": 24, "spellcheck": "false"}),
    )
    note = forms.CharField(required=False, max_length=500, label="What changed and why")

    def keep_file_as_text(self) -> None:
        """Put an uploaded file's content into the text, so that it is kept when refused."""
        upload = self.files.get("file")
        if upload is not None and (upload.size or 0) <= SIZE_CAP_BYTES:
            text = upload.read().decode("utf-8-sig", errors="replace")
            self.data = {"note": self.data.get("note", ""), "text": text}

    @override
    def clean(self) -> dict[str, Any]:
        """Read the definition; each problem stands at the text."""
        cleaned = super().clean() or {}
        upload = cleaned.get("file")
        if upload is not None and upload.size > SIZE_CAP_BYTES:
            self.add_error("file", f"The file is longer than {SIZE_CAP_BYTES // 1024} kB.")
            return cleaned
        text = str(cleaned.get("text", "")).replace("\r\n", "\n")
        if not text.strip():
            self.add_error("text", "Choose a file or paste a definition.")
            return cleaned
        if "\ufffd" in text:
            self.add_error("file", "The text is not UTF-8. Save the file as UTF-8 and try again.")
            return cleaned
        try:
            from_toml(text)
        except DefinitionRefused as refusal:
            for problem in refusal.problems:
                self.add_error("text", str(problem))
        return {**cleaned, "text": text}


class SpareTestForm(forms.Form):
    """What was measured on a spare; fields not measured stay empty."""

    tested_on = forms.DateField(
        required=False,
        label="Tested on",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    capacity_ah = NumberField(required=False, label="Capacity [Ah]")
    resistance_mohm = NumberField(required=False, label="Resistance over 10 s [mΩ]")
    cell_v = NumberField(required=False, label="Mean cell voltage at rest [V]")
    insulation_ohm = OhmField(required=False, label="Insulation to the housing [Ω]")
    insulation_comparator = forms.ChoiceField(
        required=False,
        label="The instrument showed",
        choices=[(EQUAL, "this value"), (ABOVE, "more than this value")],
    )
    insulation_test_v = NumberField(required=False, label="Test voltage [V]")

    def test(self) -> SpareTest:
        """Return what was measured."""
        fields = SpareTestForm.base_fields
        measured = {name: self.cleaned_data[name] for name in fields}
        measured["insulation_comparator"] = measured["insulation_comparator"] or EQUAL
        return SpareTest(**measured)

    def show_refusal(self, refusal: Refused) -> None:
        """Show a refusal at its field."""
        self.add_error(refusal.field if refusal.field in self.fields else None, str(refusal))


class SpareForm(SpareTestForm):
    """A spare that comes into the shop."""

    serial = forms.CharField(max_length=80, label="Serial")
    part = forms.CharField(max_length=120, label="Part")
    chemistry = forms.ChoiceField(choices=[(code, CHEMISTRY_WORDS[code]) for code in CURVES])
    cells = forms.IntegerField(min_value=1, max_value=200, label="Cells in series")
    provenance = forms.CharField(
        max_length=1000,
        label="Where it comes from",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Donor vehicle or supplier, age, and what is known of its life.",
    )
    place = forms.CharField(required=False, max_length=120, label="Place")

    field_order = ("serial", "part", "chemistry", "cells", "provenance", "place")

    def new_spare(self) -> NewSpare:
        """Return what was entered."""
        names = ("serial", "part", "chemistry", "cells", "provenance", "place")
        return NewSpare(**{name: self.cleaned_data[name] for name in names}, test=self.test())


class SpareMoveForm(forms.Form):
    """Another place or state for a spare."""

    state = forms.ChoiceField(label="State")
    place = forms.CharField(required=False, max_length=120, label="Place")
    note = forms.CharField(required=False, max_length=500, label="Note")

    def offer(self, spare: SpareInfo, *, release: bool) -> None:
        """Offer the states that may follow the present one.

        Fitting is a job's act, never one of this form; ``release`` says whether the person may
        take a spare out of quarantine.
        """
        offered = [code for code in STATES if code in MOVES[spare.state] - {FITTED}]
        if spare.quarantined and not release:
            offered.remove(IN_STOCK)
        field = self.fields["state"]
        if isinstance(field, forms.ChoiceField):
            field.choices = [(code, STATES[code]) for code in offered]
        self.initial = {"state": spare.state, "place": spare.place}

    def show_refusal(self, refusal: Refused) -> None:
        """Show a refusal at its field."""
        self.add_error(refusal.field if refusal.field in self.fields else None, str(refusal))
