"""The cards of a step: one for each thing asked, with what was entered and what locks it.

Plain data, made before the template runs, so that a template asks the database nothing. How the
cards stand together on the page is in `jobs.views.groups`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils.safestring import mark_safe
from django.utils.translation import gettext

from jobs.core.entering import enter_gate
from jobs.core.entry import Entry, Kind
from jobs.core.item import Item, PersonUsed, Shape, qualifier_of
from jobs.core.leak_history import is_switch
from jobs.core.record import Record
from jobs.report.wording import Wording
from jobs.steps import STEPS
from jobs.views.bolts import BoltCard, SamplingCard, bolts_of, sampling_of
from jobs.views.doubts import doubts_said
from jobs.views.quotation import Editor, VersionShown, editor_of, version_shown
from packs.svg import svg

__all__ = ["Bench", "Card", "Given", "Pick", "Picks", "anchor_of", "cards_of"]


@dataclass(frozen=True, slots=True)
class Pick:
    """One thing to choose from a register."""

    id: str
    label: str
    usable: bool
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picks:
    """What the registers offer: equipment by kind, spares, people."""

    equipment: Mapping[str, tuple[Pick, ...]]
    spares: tuple[Pick, ...]
    people: tuple[Pick, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """A value that was entered, in force or struck.

    Attributes
    ----------
    key : str
        Its entry.
    text : str
        What was entered, in words; a table or series is counted, its cells stand in `cells`.
    figure : bool
        Whether it is one number, shown large.
    cells : tuple[tuple[str, str], ...]
        Row and value of a table.
    qualifier : str
        Which one of a collection, in words.
    name, at : str, datetime
        Who entered it and when.
    struck : str
        Why it was struck; empty while it is in force.
    picture : str
        Digest of the picture.
    newest : bool
        Whether it is the last value entered in this step.
    paper : str
        Which sheet it was typed in from, in words; empty where it was entered at once.
    drawing : str
        A customer's signature as SVG; empty where none was drawn.
    version : VersionShown | None
        A quotation with its table and what became of it.
    doubts : tuple[str, ...]
        What is odd about the value, in words; it counts all the same.
    suspect : str
        Why it does not fit the other readings; empty where it does.
    place : str
        Which one of a collection, as data.
    """

    key: str
    text: str
    figure: bool
    cells: tuple[tuple[str, str], ...]
    qualifier: str
    name: str
    at: datetime
    struck: str
    picture: str
    newest: bool
    paper: str = ""
    drawing: str = ""
    version: VersionShown | None = None
    doubts: tuple[str, ...] = ()
    suspect: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a qualifier that is chosen or typed when entering."""

    name: str
    label: str
    options: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One card.

    Attributes
    ----------
    anchor : str
        Where the gate list jumps to.
    item : Item
        What is asked.
    template : str
        Partial that renders its input.
    qualifier, which : str
        Which one of a collection, as data and in words.
    parts : tuple[Part, ...]
        Parts of the qualifier to choose, where it is not fixed.
    given : tuple[Given, ...]
        Values in force.
    struck : tuple[Given, ...]
        Values struck, crossed out.
    open : bool
        Whether a value can be entered now.
    locked : str
        Why not, in words.
    next : bool
        Whether it is the next thing to do.
    optional : bool
        Whether nobody asks for it (any more).
    picks : tuple[Pick, ...]
        What can be picked.
    editor : Editor | None
        What a quotation starts with.
    bolts, sampling : BoltCard | None, SamplingCard | None
        A stage of a torque list, bolt by bolt; a series taken sample by sample.
    unfinished : bool
        Whether more is entered here though something was.
    """

    anchor: str
    item: Item[Any]
    template: str
    qualifier: str = ""
    which: str = ""
    parts: tuple[Part, ...] = ()
    given: tuple[Given, ...] = ()
    struck: tuple[Given, ...] = ()
    open: bool = False
    locked: str = ""
    next: bool = False
    optional: bool = False
    picks: tuple[Pick, ...] = ()
    editor: Editor | None = None
    bolts: BoltCard | None = None
    sampling: SamplingCard | None = None
    unfinished: bool = False

    @property
    def switch(self) -> bool:
        """Whether it is switched on and off; nothing is done by it."""
        return is_switch(self.item)

    @property
    def folded(self) -> bool:
        """Whether its form is shown only when asked for."""
        shown = self.item.shape in {Shape.TICK, Shape.LOG}
        return self.optional and not (self.parts or self.next or shown)

    @property
    def kind(self) -> str:
        """How it stands on the page: "open", "done" or "locked"."""
        if self.open:
            return "open"
        return "done" if self.given or self.struck else "locked"


def anchor_of(key: str, qualifier: str = "") -> str:
    """Give the anchor of an item's card."""
    safe = "".join(letter if letter.isalnum() else "-" for letter in f"{key} {qualifier}".strip())
    return f"card-{safe}"


def _cells(item: Item[Any], entry: Entry, words: Wording) -> tuple[tuple[str, str], ...]:
    tables = {Shape.TABLE, Shape.TORQUE}
    return words.cells(item, entry.value) if item.shape in tables else ()


def _drawing(item: Item[Any], entry: Entry, words: Wording) -> str:
    """Draw a customer's signature for the page."""
    picture = words.signature(entry.value["ref"]) if item.shape is Shape.DRAWN else None
    return "" if picture is None else mark_safe(svg(picture))  # noqa: S308 - svg escapes its texts


def _doubts(bench: "Bench", item: Item[Any], entry: Entry) -> tuple[str, ...]:
    """Say what is odd about a value in force."""
    if entry.key in bench.record.gone:
        return ()
    return doubts_said(bench.record, item, entry.value, bench.words)


def _shown(bench: "Bench", item: Item[Any], entry: Entry) -> Given:
    words, cells = bench.words, _cells(item, entry, bench.words)
    return Given(
        key=entry.key,
        text=words.value(item, entry.value),
        figure=item.shape in {Shape.READING, Shape.BOUNDED},
        cells=cells,
        qualifier=words.qualifier(entry.qualifier),
        name=words.name(entry.person),
        at=entry.at,
        struck=bench.record.gone.get(entry.key, ""),
        picture=entry.value["sha256"] if item.shape is Shape.PHOTO else "",
        newest=entry.key == bench.newest,
        paper=words.from_paper(entry.paper),
        drawing=_drawing(item, entry, words),
        version=version_shown(bench.record, entry, words, bench.tax_percent),
        doubts=_doubts(bench, item, entry),
        suspect=bench.suspects.get((entry.item, entry.qualifier), ""),
        place=entry.qualifier,
    )


def _parts(item: Item[Any]) -> tuple[Part, ...]:
    poles = {"pos": gettext("positive"), "neg": gettext("negative")}
    return tuple(
        Part(
            name,
            gettext(name),
            tuple((o, poles.get(o, o.replace("_", " "))) for o in item.options.get(name, ())),
        )
        for name in item.qualifiers
    )


def _picks(item: Item[Any], picks: Picks) -> tuple[Pick, ...]:
    match item.shape:
        case Shape.EQUIPMENT:
            return tuple(pick for kind in item.kinds for pick in picks.equipment.get(kind, ()))
        case Shape.SPARE:
            return picks.spares
        case Shape.PERSON | Shape.SIGNATURE:
            return picks.people
        case _:
            return ()


def _values(record: Record, key: str) -> tuple[tuple[Entry, ...], tuple[Entry, ...]]:
    """Give the values of an item: in force, and struck or voided."""
    gone = tuple(
        entry
        for entry in record.entries
        if entry.kind is Kind.VALUE and entry.item == key and entry.key in record.gone
    )
    return record.live.get(key, ()), gone


@dataclass(frozen=True, slots=True)
class Bench:
    """What making cards needs, beside the item."""

    record: Record
    by: PersonUsed
    picks: Picks
    words: Wording
    newest: str = ""
    tax_percent: Decimal = Decimal(0)
    suspects: Mapping[tuple[str, str], str] = field(default_factory=dict)


def _locked(bench: Bench, item: Item[Any], qualifier: str) -> str:
    blockers = enter_gate(STEPS, bench.record, key=item.key, qualifier=qualifier, by=bench.by)
    return " ".join(bench.words.said(point) for point in blockers)


def _given(bench: Bench, item: Item[Any], entries: Iterator[Entry]) -> tuple[Given, ...]:
    return tuple(_shown(bench, item, entry) for entry in entries)


def _card(bench: Bench, item: Item[Any], qualifier: str) -> Card:
    """Make the card of a single item, or of one fixed member of a collection."""
    live, gone = _values(bench.record, item.key)
    mine = [entry for entry in live if entry.qualifier == qualifier]
    struck = [entry for entry in gone if entry.qualifier == qualifier]
    bolts = bolts_of(item, qualifier, bench.words, mine)
    unfinished = bolts is not None and bolts.sheet.next is not None
    locked = "" if mine and bolts is None else _locked(bench, item, qualifier)
    enough = item.many == "each" and bool(live) and qualifier not in item.expected
    return Card(
        bolts=bolts,
        unfinished=unfinished,
        anchor=anchor_of(item.key, qualifier),
        item=item,
        template=f"jobs/items/{item.shape}.html",
        qualifier=qualifier,
        which=bench.words.qualifier(qualifier),
        given=_given(bench, item, iter(mine)),
        struck=_given(bench, item, iter(struck)),
        open=not locked and (bolts is not None or not mine),
        locked=locked,
        optional=not item.needed or (enough if bolts is None else not unfinished),
        picks=_picks(item, bench.picks),
        editor=None if mine else editor_of(bench.record, item, bench.tax_percent),
    )


def _sample_qualifier(item: Item[Any]) -> str:
    """Give a qualifier with which to ask whether a collection is open at all."""
    chosen = {name: (item.options.get(name) or ("-",))[0] for name in item.qualifiers}
    return qualifier_of(**chosen)


def _open_card(bench: Bench, item: Item[Any]) -> Card:
    """Make the card of a collection whose qualifier is chosen, or of a free one."""
    live, gone = _values(bench.record, item.key)
    asked = replace(item, many="free")
    locked = ""
    if item.many == "free":
        locked = _locked(bench, asked, "")
    else:
        blockers = enter_gate(
            STEPS, bench.record, key=item.key, qualifier=_sample_qualifier(item), by=bench.by
        )
        recorded = {"already_recorded"}
        locked = " ".join(bench.words.said(p) for p in blockers if p.code not in recorded)
    return Card(
        anchor=anchor_of(item.key),
        item=item,
        template=f"jobs/items/{item.shape}.html",
        parts=_parts(item),
        given=_given(bench, item, reversed(live)),
        struck=_given(bench, item, iter(gone)),
        open=not locked,
        locked=locked,
        optional=not item.needed,
        sampling=sampling_of(item, bench.words),
        unfinished=item.shape is Shape.SAMPLE,
        picks=_picks(item, bench.picks),
    )


def cards_of(bench: Bench, item: Item[Any]) -> tuple[Card, ...]:
    """Make the cards of one item: one, or one for each member of a collection that is asked.

    Parameters
    ----------
    bench : Bench
        The record, who looks at it, what can be picked, and the words.
    item : Item
        What is asked.

    Returns
    -------
    tuple[Card, ...]
        Its cards in the order asked.
    """
    asked = (*item.expected, *(each for each in item.offered if each not in item.expected))
    if item.many == "one":
        return (_card(bench, item, ""),)
    if not asked or item.options:
        return (_open_card(bench, item),)
    other = {entry.qualifier for entry in bench.record.live.get(item.key, ())} - set(asked)
    return tuple(_card(bench, item, qualifier) for qualifier in (*asked, *sorted(other)))
