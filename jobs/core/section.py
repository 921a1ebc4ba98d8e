"""What a step has to say, as data: to the technician beside the items, to the customer in the PDF.

Here: `Section` and its parts. A sentence is a `Said` (English with named fields), so that it is
made in the reader's language when shown. Not here: how it is laid out (`templates/jobs`,
`jobs.report`).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from jobs.core.item import PersonalRef
from jobs.core.reason import Param
from packs.picture import Picture

__all__ = ["Fact", "Quantity", "Said", "Section", "Table", "VerdictWord", "Words"]

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

    label: str
    value: Words
    verdict: VerdictWord = "none"
    limit: Quantity | None = None
    limit_kind: str = ""
    limit_source: str = ""
    instrument: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A small table; the first column names the row."""

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[Words, ...], ...]


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
    """

    verdict: VerdictWord = "none"
    headline: Said | None = None
    plain: tuple[Said | PersonalRef, ...] = ()
    advice: tuple[Said, ...] = ()
    warnings: tuple[Said, ...] = ()
    facts: tuple[Fact, ...] = ()
    tables: tuple[Table, ...] = ()
    pictures: tuple[Picture, ...] = ()
    not_covered: tuple[Said, ...] = ()
    back: tuple[str, ...] = ()
