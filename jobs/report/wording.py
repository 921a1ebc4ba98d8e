"""Words for what the record holds: values, reasons and sentences, in the reader's language.

Used by the pages and by the report. Not here: the sentences themselves; those stand with the
reasons and sections.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext

from jobs.core.entry import Json
from jobs.core.item import Item, PersonalRef, Shape, qualifier_parts
from jobs.core.reason import Blocker, say
from jobs.core.section import Quantity, Said, Words
from workshop import figures_text

__all__ = ["Wording"]

KINDS = {
    "maker": "vehicle maker",
    "regulation": "regulation",
    "shop_default": "shop default",
}
POLES = {"pos": "positive", "neg": "negative"}
TABLE_SHOWN = 6
PARTS = {
    "pair=pos-neg": "positive to negative",
    "pair=pos-chassis": "positive to chassis",
    "pair=neg-chassis": "negative to chassis",
    "pole=pos": "positive pole",
    "pole=neg": "negative pole",
    "shunt=fitted": "shunt fitted",
    "shunt=none": "no shunt",
    "unplugged=nothing": "nothing unplugged",
    "open=none": "no further link open",
    "when=before": "before the readings",
    "when=after": "after the readings",
    # The first round is the usual case; only a further one is worth a word.
    "round=1": "",
}
"""Parts of a qualifier that have words of their own."""
NAMED = {
    "after": "after {value}",
    "module": "module {value}",
    "open": "open: {value}",
    "part": "{value}",
    "point": "{value}",
    "round": "round {value}",
    "stage": "stage {value}",
    "unplugged": "{value} unplugged",
    "what": "{value}",
}


ORDER = ("module", "part", "point", "pole", "pair", "open", "unplugged", "shunt")


def _place(name: str) -> int:
    """Say where in the words a part stands: what is read first, how it is read last."""
    return ORDER.index(name) if name in ORDER else len(ORDER)


def _part(name: str, value: str) -> str:
    """Write one part of a qualifier."""
    whole = PARTS.get(f"{name}={value}")
    if whole is not None:
        return gettext(whole) if whole else ""
    plain = value.replace("_", " ")
    return gettext(NAMED.get(name, f"{name} {{value}}")).format(value=plain)


@dataclass(frozen=True, slots=True)
class Wording:
    """Turns what the record holds into words.

    Attributes
    ----------
    zone : ZoneInfo
        The workshop's time zone.
    names : Mapping[str, str]
        Display names by identifier.
    personal : Mapping[str, str]
        Erasable words by reference; what is missing was erased.
    """

    zone: ZoneInfo
    names: Mapping[str, str] = field(default_factory=dict)
    personal: Mapping[str, str] = field(default_factory=dict)

    def name(self, person: str) -> str:
        """Give a person's display name."""
        return self.names.get(person, gettext("somebody who has left"))

    def said(self, sentence: Said | Blocker) -> str:
        """Make a sentence."""
        return say(
            sentence.text,
            sentence.params,
            names=self.names,
            zone=self.zone,
            translate=gettext,
        )

    def erasable(self, ref: str) -> str:
        """Give words about a person, or say that they were erased."""
        return self.personal.get(ref, gettext("erased on request"))

    def words(self, value: Words) -> str:
        """Make the words of a cell: a sentence, a figure, erasable text or a name."""
        match value:
            case Said():
                return self.said(value)
            case Quantity():
                return self.quantity(value)
            case PersonalRef():
                return self.erasable(value.ref)
            case str():
                return gettext(POLES.get(value, value)) if value else ""

    def quantity(self, value: Quantity) -> str:
        """Write a figure with its unit and interval."""
        digits = 4 if value.unit == "V" else 3
        shown = figures_text.bound(value.value, value.unit, value.comparator, digits)
        if value.low is None and value.high is None:
            return shown
        interval = figures_text.span(value.low, value.high, value.unit, digits)
        return interval if value.high is None else f"{shown} ({interval})"

    def limit(self, quantity: Quantity | None, kind: str, source: str) -> str:
        """Write a limit with its kind and source; where there is none, say so."""
        if quantity is None:
            return ""
        where = gettext(KINDS.get(kind, kind)) if kind else ""
        named = source or gettext("no source given")
        return f"{self.quantity(quantity)} ({where}: {named})" if where else self.quantity(quantity)

    def qualifier(self, qualifier: str) -> str:
        """Write which one of a collection."""
        parts = qualifier_parts(qualifier)
        named = sorted(parts, key=_place)
        return ", ".join(filter(None, (_part(name, parts[name]) for name in named)))

    def value(self, item: Item[Any], stored: Json) -> str:
        """Write the value of an item."""
        writers: dict[Shape, Callable[[Item[Any], Json], str]] = {
            Shape.READING: self._reading,
            Shape.BOUNDED: self._reading,
            Shape.CHOICE: self._choice,
            Shape.PERSONAL: lambda _item, value: self.erasable(value["ref"]),
            Shape.SIGNATURE: lambda _item, value: self.name(value["id"]),
            Shape.PERSON: lambda _item, value: self.name(value["id"]),
            Shape.EQUIPMENT: self._picked,
            Shape.SPARE: self._picked,
            Shape.SERIES: self._series,
            Shape.TABLE: self._table,
            Shape.TICK: lambda _item, _value: gettext("done"),
            Shape.PHOTO: lambda _item, _value: gettext("picture"),
            Shape.TEXT: lambda _item, value: str(value),
        }
        return writers[item.shape](item, stored)

    def _reading(self, item: Item[Any], stored: Json) -> str:
        digits = 4 if item.unit == "V" else 6
        return figures_text.bound(stored["number"], item.unit, stored["comparator"], digits)

    def _choice(self, item: Item[Any], stored: Json) -> str:
        labels = {choice.value: choice.label for choice in item.choices}
        return gettext(labels.get(str(stored), str(stored)))

    def _series(self, _item: Item[Any], stored: Json) -> str:
        return gettext("{count} samples over {seconds} s").format(
            count=len(stored), seconds=stored[-1][0]
        )

    def _picked(self, _item: Item[Any], stored: Json) -> str:
        label = stored.get("label") or stored["serial"]
        due = stored.get("due_on")
        return (
            gettext("{label}, in date until {due}").format(label=label, due=due) if due else label
        )

    def _table(self, item: Item[Any], stored: Json) -> str:
        cells = [f"{name} {shown}" for name, shown in self.cells(item, stored)]
        shown = ", ".join(cells[:TABLE_SHOWN])
        more = len(cells) - TABLE_SHOWN
        return f"{shown}, …" if more > 0 else shown

    def cells(self, item: Item[Any], stored: Json) -> tuple[tuple[str, str], ...]:
        """Write a table row by row: its name and its figure with the unit."""
        return tuple(
            (name, figures_text.quantity(number, item.unit)) for name, number in stored.items()
        )
