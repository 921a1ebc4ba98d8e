"""Words for what the record holds: values, reasons and sentences, in the reader's language.

Used by the pages and by the report. Not here: the sentences themselves; those stand with the
reasons and sections.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext, ngettext

from jobs.core.drawn import drawn_of
from jobs.core.entry import Json
from jobs.core.item import Item, PersonalRef, Shape, qualifier_parts
from jobs.core.quotation import MONEY, Quotation
from jobs.core.reason import Blocker, say
from jobs.core.record import Record
from jobs.core.section import Quantity, Said, Words
from jobs.queries.records import people_in, personal_texts
from packs.picture import Picture
from workshop import figures_text
from workshop import queries as shop

__all__ = ["Wording", "wording_of"]

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
    "version": "version {value}",
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


def _cell(cell: Json, unit: str) -> str:
    """Write a number of a table; a torque at which the tool only clicked is said to be that."""
    if not isinstance(cell, dict):
        return figures_text.quantity(cell, unit, 4)
    number = figures_text.quantity(cell["number"], unit, 4)
    return gettext("{number}, clicked").format(number=number)


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
    currency : str
        The shop's currency, three letters.
    """

    zone: ZoneInfo
    names: Mapping[str, str] = field(default_factory=dict)
    personal: Mapping[str, str] = field(default_factory=dict)
    currency: str = ""

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
            money=self.money,
        )

    def money(self, amount: float | str) -> str:
        """Write an amount; the shop's currency is meant where it carries none."""
        return figures_text.money_words(amount, self.currency)

    def erasable(self, ref: str) -> str:
        """Give words about a person, or say that they were erased."""
        text = self.personal.get(ref, gettext("erased on request"))
        signature = drawn_of(text)
        return text if signature is None else signature.words

    def signature(self, ref: str) -> Picture | None:
        """Give what a customer drew; None where they did not, or it was erased."""
        kept = drawn_of(self.personal.get(ref, ""))
        return None if kept is None else kept.picture()

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

    def from_paper(self, stored: Json) -> str:
        """Say which sheet a value was typed in from; empty where it was entered at once."""
        if stored is None:
            return ""
        written = datetime.fromisoformat(stored["written_at"])
        return gettext("from paper, sheet {sheet}, written {at} by {name}").format(
            sheet=stored["sheet"],
            at=figures_text.moment(written, self.zone),
            name=self.name(stored["by"]),
        )

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
            Shape.DRAWN: lambda _item, value: self.erasable(value["ref"]),
            Shape.SIGNATURE: lambda _item, value: self.name(value["id"]),
            Shape.PERSON: lambda _item, value: self.name(value["id"]),
            Shape.EQUIPMENT: self._picked,
            Shape.SPARE: self._picked,
            Shape.SERIES: self._series,
            Shape.TABLE: self._table,
            Shape.TORQUE: self._table,
            Shape.SAMPLE: self._sample,
            Shape.DAY: lambda _item, value: figures_text.day(date.fromisoformat(value)),
            Shape.TICK: lambda _item, _value: gettext("done"),
            Shape.PHOTO: lambda _item, _value: gettext("picture"),
            Shape.TEXT: lambda _item, value: str(value),
            Shape.QUOTATION: self._quotation,
            Shape.LOG: self._log,
        }
        return writers[item.shape](item, stored)

    def _log(self, _item: Item[Any], stored: Json) -> str:
        return gettext("{name}: {rows} rows over {hours:.1f} h").format(
            name=stored["name"], rows=stored["rows"], hours=float(stored["lasted_s"]) / 3600.0
        )

    def _quotation(self, item: Item[Any], stored: Json) -> str:
        quotation: Quotation = item.read(stored)
        count = len(quotation.lines)
        said = ngettext("{count} line, {total}", "{count} lines, {total}", count).format(
            count=count, total=figures_text.money(quotation.total, quotation.currency)
        )
        if quotation.valid_until is None:
            return said
        until = gettext("valid until {day}").format(day=figures_text.day(quotation.valid_until))
        return f"{said}, {until}"

    def _reading(self, item: Item[Any], stored: Json) -> str:
        if item.unit == MONEY:
            return self.money(stored["number"])
        digits = 4 if item.unit == "V" else 6
        return figures_text.bound(stored["number"], item.unit, stored["comparator"], digits)

    def _choice(self, item: Item[Any], stored: Json) -> str:
        labels = {choice.value: choice.label for choice in item.choices}
        return gettext(labels.get(str(stored), str(stored)))

    def _series(self, _item: Item[Any], stored: Json) -> str:
        return gettext("{count} samples over {seconds} s").format(
            count=len(stored), seconds=stored[-1][0]
        )

    def _sample(self, _item: Item[Any], stored: Json) -> str:
        units = (("t_s", "s"), ("gauge_pa", "Pa"), ("temp_c", "degC"), ("barometer_pa", "Pa"))
        return ", ".join(figures_text.quantity(stored[name], unit, 6) for name, unit in units)

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
        return tuple((name, _cell(cell, item.unit)) for name, cell in stored.items())


def wording_of(job: str, record: Record) -> Wording:
    """Give the words for a job: its people, its erasable texts, the workshop's zone and currency.

    Parameters
    ----------
    job : str
        Its identifier.
    record : Record
        Its record.

    Returns
    -------
    Wording
        It asks the database nothing more.
    """
    here = shop.shop()
    return Wording(
        zone=here.zone,
        names=people_in(record),
        personal=personal_texts(job),
        currency=here.currency,
    )
