"""What a step has to say, as data: to the technician beside the items, to the customer in the PDF.

Here: `Section` and its parts. A sentence is a `Said` (English with named fields), so that it is
made in the reader's language when shown. Not here: how it is laid out (`templates/jobs`,
`jobs.report`).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from jobs.core.item import PersonalRef
from jobs.core.reason import Param
from packs.picture import Picture

__all__ = [
    "CountDown",
    "Fact",
    "Proposal",
    "Quantity",
    "Said",
    "Section",
    "Suspect",
    "Table",
    "VerdictWord",
    "Words",
]

VerdictWord = Literal["pass", "fail", "undecided", "none"]


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence with named fields; ``*_at`` is an ISO time, ``*person`` an identifier."""

    text: str
    params: Mapping[str, Param] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A figure with its unit and, where it carries a verdict, its 95 % interval.

    Attributes
    ----------
    value : float
        The figure, in the unit.
    unit : str
        SI unit as in item names ("ohm", "V", "Pa", "ohm/V", ...).
    low, high : float | None
        95 % interval; None for no interval, and `high` None with `low` set for a lower bound.
    comparator : {"=", ">", "<"}
        Whether the instrument gave a number or a bound.
    """

    value: float
    unit: str
    low: float | None = None
    high: float | None = None
    comparator: Literal["=", ">", "<"] = "="


Words = Said | Quantity | PersonalRef | str
"""What may stand in a cell: a sentence, a figure, erasable text, or a name of a thing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One line of proof: what, how much, against which limit from which source."""

    label: Said | str
    value: Words
    verdict: VerdictWord = "none"
    limit: Quantity | None = None
    limit_kind: str = ""
    limit_source: str = ""
    instrument: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A small table; the first column names the row.

    `of_parts`: what went out and came in; `shares` of the width by column, else all alike.
    """

    title: str
    headings: tuple[Words, ...]
    rows: tuple[tuple[Words, ...], ...]
    of_parts: bool = False
    shares: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A reading worth taking next, each line in a few words.

    Attributes
    ----------
    item, qualifier : str
        The card that takes it, and which one of the collection.
    chosen : bool
        Whether one card takes the whole collection and asks which one.
    what : Said
        Which pole.
    how : tuple[Said, ...]
        Which links are open, shunt or not.
    why : Said
        What it will decide.
    first : Said | None
        What has to be done before; `first_item` and `first_qualifier` say on which card, or
        `first_hold` at which hold point.
    """

    item: str
    qualifier: str
    what: Said
    how: tuple[Said, ...]
    why: Said
    chosen: bool = False
    first: Said | None = None
    first_item: str = ""
    first_qualifier: str = ""
    first_hold: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A value that does not fit the others: which entry, and what was probably wrong."""

    item: str
    qualifier: str
    text: Said


@dataclass(frozen=True, slots=True, kw_only=True)
class CountDown:
    """A time that runs until it can be gone on: its words, and its end by the server's clock."""

    text: Said
    until: datetime
    over: Said


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A step's part of screen and report.

    Attributes
    ----------
    verdict : VerdictWord
        What the readings say; "none" while nothing is to be said.
    headline : Said | None
        The verdict in a few words.
    plain : tuple[Said | PersonalRef, ...]
        Sentences a customer understands: what you told us, what we found, did, left.
    agreed : tuple[Said, ...]
        What the customer agreed to in this step; for the report.
    advice : tuple[Said, ...]
        What to measure or do next.
    warnings : tuple[Said, ...]
        What to be careful about.
    facts : tuple[Fact, ...]
        The proof, with limits and their sources.
    tables : tuple[Table, ...]
        Readings one by one.
    pictures : tuple[Picture, ...]
        Pictures of the readings.
    not_covered : tuple[Said, ...]
        What this step does not show.
    back : tuple[str, ...]
        Slugs of the earlier steps to which a finding leads back.
    proposals : tuple[Proposal, ...]
        Readings worth taking next, the most telling first.
    suspects : tuple[Suspect, ...]
        Values that do not fit the others.
    counts : tuple[CountDown, ...]
        Times that run.
    """

    verdict: VerdictWord = "none"
    headline: Said | None = None
    plain: tuple[Said | PersonalRef, ...] = ()
    agreed: tuple[Said, ...] = ()
    advice: tuple[Said, ...] = ()
    warnings: tuple[Said, ...] = ()
    facts: tuple[Fact, ...] = ()
    tables: tuple[Table, ...] = ()
    pictures: tuple[Picture, ...] = ()
    not_covered: tuple[Said, ...] = ()
    back: tuple[str, ...] = ()
    proposals: tuple[Proposal, ...] = ()
    suspects: tuple[Suspect, ...] = ()
    counts: tuple[CountDown, ...] = ()
