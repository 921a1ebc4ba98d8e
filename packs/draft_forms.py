"""The form from which a definition is started: topology, as a person sees or counts it."""

import re
from typing import Any, Final

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from typing_extensions import override

from packs.definition_content import Content
from packs.definition_form import CHEMISTRIES, DISCONNECTS
from packs.draft_topology import (
    CELLS_V,
    FAULTS,
    MOST_IN_LINE,
    MOST_MODULES,
    Topology,
    content_of,
    faults_in,
    slug_of,
)
from packs.errors import Refused
from packs.forms import NumberField

_SEPARATORS: Final = re.compile(r"[\s,;+]+")
_DIRECTIONS: Final = (
    ("there_and_back", _("there and back: the next row runs the other way")),
    ("rows", _("every row from the same side")),
)
_COUNT = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})


class TopologyForm(forms.Form):
    """Topology of a pack that the shop has never met."""

    draft_id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    name = forms.CharField(max_length=120, label=_("Name of the pack"))
    vehicle_text = forms.CharField(max_length=500, label=_("Vehicles it is fitted to"))
    chemistry = forms.ChoiceField(
        choices=[("", "–"), *((code, _(words)) for code, words in CHEMISTRIES)],
        label=_("Cell chemistry"),
    )
    modules = forms.IntegerField(
        min_value=1, max_value=MOST_MODULES, label=_("Number of modules"), widget=_COUNT
    )
    cells = forms.CharField(
        max_length=1000,
        label=_("Cells in series in each module"),
        help_text=_("One number for all, or one for each module: 6 6 8 6."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    rows = forms.IntegerField(
        min_value=1, max_value=MOST_IN_LINE, label=_("Rows, side by side"), widget=_COUNT
    )
    columns = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=MOST_IN_LINE,
        label=_("Modules in a row"),
        help_text=_("Empty: as many as needed."),
        widget=_COUNT,
    )
    direction = forms.ChoiceField(choices=_DIRECTIONS, label=_("Series order runs"))
    disconnect = forms.ChoiceField(
        choices=[(code, _(words)) for code, words in DISCONNECTS], label=_("Service disconnect")
    )
    after = forms.IntegerField(
        required=False,
        min_value=1,
        label=_("Plug lies after module number"),
        help_text=_("Only for a plug in the string, counted from pack negative."),
        widget=_COUNT,
    )
    part = forms.CharField(
        required=False, max_length=120, label=_("Part number of the modules, if known")
    )
    label_text = forms.CharField(
        required=False, max_length=500, label=_("Text of the label on the pack")
    )
    nominal_v = NumberField(
        required=False,
        label=_("Nominal voltage on the label [V]"),
        help_text=_("Empty: computed from cells and chemistry, to be confirmed."),
    )
    highest_v = NumberField(
        required=False,
        label=_("Highest voltage on the label [V]"),
        help_text=_("Empty: computed from cells and chemistry, to be confirmed."),
    )
    slug = forms.CharField(
        required=False,
        max_length=60,
        label=_("Short name in addresses and files"),
        help_text=_("Empty: made from the name."),
    )

    @override
    def clean(self) -> dict[str, Any]:
        """Ask whether all of it fits together; each fault stands at its field."""
        cleaned = super().clean() or {}
        if "cells" in cleaned:
            counts = counts_in(cleaned["cells"])
            if counts is None:
                self.add_error("cells", _said("count", most=MOST_MODULES))
            cleaned["cells"] = counts
        if not self.errors:
            for fault in faults_in(self.topology()):
                self.add_error(fault.name, _said(fault.code, **fault.parameters))
        return cleaned

    def topology(self) -> Topology:
        """Return what was entered."""
        given = {**self.cleaned_data}
        given.pop("draft_id", None)
        given["slug"] = given["slug"].strip() or slug_of(given["name"])
        if given["disconnect"] != "string_plug":
            given["after"] = None
        return Topology(**given)

    def show_refusal(self, refusal: Refused) -> None:
        """Show a refusal at its field."""
        self.add_error(refusal.field if refusal.field in self.fields else None, str(refusal))


def _said(code: str, **parameters: object) -> str:
    """Return the sentence of a fault."""
    return gettext(FAULTS[code]).format(**parameters)


def counts_in(text: str) -> tuple[int, ...] | None:
    """Read one or several counts; None if something else stands there.

    Examples
    --------
    >>> counts_in("6"), counts_in("6, 6 8"), counts_in("six")
    ((6,), (6, 6, 8), None)
    """
    words = [word for word in _SEPARATORS.split(text.strip()) if word]
    if not words or not all(re.fullmatch(r"[0-9]{1,4}", word) for word in words):
        return None
    return tuple(int(word) for word in words)


def drawn_from(sent: QueryDict) -> Content:
    """Return as much of a topology as can be drawn, while the form is being filled."""
    modules = min(_count(sent, "modules") or 0, MOST_MODULES)
    if not modules:
        return {}
    counts = counts_in(sent.get("cells", "")) or ()
    cells = counts * modules if len(counts) == 1 else (*counts, *(0 for _each in range(modules)))
    after = _count(sent, "after")
    plugged = sent.get("disconnect") == "string_plug" and after is not None and after < modules
    content = content_of(
        Topology(
            name="-",
            vehicle_text="-",
            slug="-",
            chemistry=next(iter(CELLS_V)),
            modules=modules,
            cells=cells[:modules],
            rows=min(_count(sent, "rows") or 1, MOST_IN_LINE),
            columns=_count(sent, "columns"),
            direction="rows" if sent.get("direction") == "rows" else "there_and_back",
            disconnect="string_plug" if plugged else "none",
            after=after if plugged else None,
        )
    )
    return {key: content[key] for key in ("modules", "disconnect")}


def _count(sent: QueryDict, name: str) -> int | None:
    """Return a count above zero that was typed; None if there is none."""
    text = sent.get(name, "").strip()
    if not re.fullmatch(r"[0-9]{1,4}", text):
        return None
    return int(text) or None
