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
from jobs.core.leak_history import History, history_words
from jobs.core.quotation import MONEY, Quotation
from jobs.core.reason import Blocker, say
from jobs.core.record import Record
from jobs.core.section import Quantity, Said, Words
from jobs.queries.records import people_in, personal_texts
from jobs.texts.again import told_again
from packs.picture import Picture
from packs.words import Kept, translated
from workshop import figures_text, units
from workshop import queries as shop

__all__ = ["Wording", "in_our_language", "wording_of"]

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
    "line": "line {value}",
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


OURS = {"what"}
"""Parts whose value is a word of ours."""
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
    if name in OURS:
        plain = gettext(plain)
    return gettext(NAMED.get(name, f"{name} {{value}}")).format(value=plain)


def _cell(cell: Json, unit: str) -> str:
    """Write a number of a table; a torque at which the tool only clicked is said to be that."""
    if not isinstance(cell, dict):
        return figures_text.in_both(cell, unit, digits=4)
    number = _as_typed(figures_text.in_both(cell["number"], unit, digits=4), cell)
    return gettext("{number}, clicked").format(number=number) if "clicked" in cell else number


def _sampled(number: str, unit: str) -> str:
    return figures_text.quantity(number, unit, figures_text.guarded(number, unit, 6))


def _as_typed(shown: str, stored: Json) -> str:
    """Add what was typed where it was typed in another unit than the one shown."""
    unit = stored.get("typed_unit", stored.get("unit", ""))
    if "typed_unit" not in stored or unit == units.shown_unit(stored.get("unit", "Nm")):
        return shown
    return gettext("{shown}, typed as {typed} {unit}").format(
        shown=shown, typed=stored["typed"], unit=figures_text.UNIT_NAMES.get(unit, unit)
    )


def in_our_language(text: str) -> str:
    """Give a sentence in the reader's language and units; one from an entry by its pattern."""
    if isinstance(text, Kept):
        again = told_again(text)
        return translated(again, in_our_language, units.fields)
    return units.sentence(gettext(text)) if text else ""


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
            translate=in_our_language,
            money=self.money,
            when=self.when,
            figures=units.fields,
        )

    def told(self, words: str) -> str:
        """Say what a calculation told."""
        return translated(words, in_our_language, units.fields)

    def when(self, moment: date) -> str:
        """Write a day, or a time in the workshop's zone."""
        if isinstance(moment, datetime):
            return figures_text.moment(moment, self.zone)
        return figures_text.day(moment)

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
                return self.told(POLES.get(value, value))

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
        figure = self.quantity(quantity)
        if kind == "computed":
            return f"{figure} ({gettext(source)})"
        where = gettext(KINDS.get(kind, kind)) if kind else ""
        if not where or (kind == "shop_default" and not source):
            return f"{figure} ({where})" if where else figure
        return f"{figure} ({where}: {source or gettext('no source given')})"

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
            Shape.TICK: self._tick,
            Shape.PHOTO: lambda _item, _value: gettext("picture"),
            Shape.TEXT: lambda _item, value: str(value),
            Shape.QUOTATION: self._quotation,
            Shape.LOG: self._log,
        }
        return writers[item.shape](item, stored)

    def _tick(self, item: Item[Any], stored: Json) -> str:
        """Say that it was done; of a switch that keeps what earlier jobs found, what that was."""
        kept = item.read(stored) if isinstance(stored, dict) else None
        return self.said(history_words(kept)) if isinstance(kept, History) else gettext("done")

    def _log(self, _item: Item[Any], stored: Json) -> str:
        rows = int(stored["rows"])
        return ngettext(
            "{name}: {rows} row over {hours:.1f} h", "{name}: {rows} rows over {hours:.1f} h", rows
        ).format(name=stored["name"], rows=rows, hours=float(stored["lasted_s"]) / 3600.0)

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
        shown = figures_text.in_both(stored["number"], item.unit, stored["comparator"], digits)
        return _as_typed(shown, stored)

    def _choice(self, item: Item[Any], stored: Json) -> str:
        labels = {choice.value: choice.label for choice in item.choices}
        return gettext(labels.get(str(stored), str(stored)))

    def _series(self, _item: Item[Any], stored: Json) -> str:
        return ngettext(
            "{count} sample over {seconds} s", "{count} samples over {seconds} s", len(stored)
        ).format(count=len(stored), seconds=stored[-1][0])

    def _sample(self, _item: Item[Any], stored: Json) -> str:
        sampled = (("t_s", "s"), ("gauge_pa", "Pa"), ("temp_c", "degC"), ("barometer_pa", "Pa"))
        return ", ".join(_sampled(stored[name], unit) for name, unit in sampled)

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

    def cell(self, item: Item[Any], stored: Json) -> str:
        """Write one number of a table."""
        return _cell(stored, item.unit)

    def cells(self, item: Item[Any], stored: Json) -> tuple[tuple[str, str], ...]:
        """Write a table row by row: its name and its figure with the unit."""
        return tuple((gettext(name), _cell(cell, item.unit)) for name, cell in stored.items())


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
