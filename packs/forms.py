"""The form of a definition to send, and the fields in which numbers are typed.

Numbers are read by one rule: one separator, always decimal, no grouping; k and M only where
the unit is ohm. What is entered goes to packs/actions as plain data. Forms of spares are in
packs/spare_forms.py, of packs as things in packs/unit_forms.py.
"""

import re
from typing import Any, Final

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from typing_extensions import override

from packs.definition import DefinitionRefused, from_toml, read_table
from packs.definition_text import SIZE_CAP_BYTES

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
            raise ValidationError(
                gettext("Write a number, such as 62.5, without spaces or grouping.")
            )
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
            raise ValidationError(gettext("Write ohms, such as 550000, 550 k or 550 M."))
        return float(match["number"].replace(",", ".")) * _PREFIXES[match["prefix"]]


class DefinitionForm(forms.Form):
    """A pack definition, as a file or as text."""

    file = forms.FileField(
        required=False,
        label=_("File"),
        help_text=_("A definition in TOML. It replaces the text below."),
    )
    text = forms.CharField(
        required=False,
        strip=False,
        label=_("Definition"),
        widget=forms.Textarea(attrs={"rows": 24, "spellcheck": "false"}),
    )
    note = forms.CharField(required=False, max_length=500, label=_("What changed and why"))

    may_be_unfinished = False
    """Whether it becomes a draft, which may lack anything; set before it is asked."""

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
            read_table(text) if self.may_be_unfinished else from_toml(text)
        except DefinitionRefused as refusal:
            for problem in refusal.problems:
                self.add_error("text", str(problem))
        return {**cleaned, "text": text}
