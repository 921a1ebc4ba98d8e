"""What a step asks for, as typed objects.

Here: `Item[T]`, the constructors the eight rooms use (`tick`, `reading`, `bounded`, `choice`,
`text`, `personal`, `photo`, `signature`, `person`, `equipment`, `spare`, `series`, `table`,
`quotation`) and the values they read back. How raw input is checked is in `jobs.core.parsing`;
which items a step has is in its room.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any, Generic, Literal, TypeVar

from jobs.core.entry import Json
from jobs.core.quotation import Quotation, read_quotation
from jobs.core.reason import Blocker
from jobs.core.snapshot import (
    Bounded,
    EquipmentUsed,
    PersonalRef,
    PersonUsed,
    PhotoRef,
    SpareUsed,
    read_cell,
    read_spare,
)

__all__ = [
    "Bounded",
    "Choice",
    "Effect",
    "EquipmentUsed",
    "Item",
    "PersonUsed",
    "PersonalRef",
    "PhotoRef",
    "Shape",
    "SpareUsed",
    "bounded",
    "choice",
    "drawn",
    "effect_of",
    "equipment",
    "free_note",
    "free_photo",
    "person",
    "personal",
    "photo",
    "qualifier_of",
    "qualifier_parts",
    "quotation",
    "reading",
    "series",
    "signature",
    "spare",
    "table",
    "text",
    "tick",
]

T = TypeVar("T")
Many = Literal["one", "each", "free"]
"""One value; one value for each qualifier; any number of values."""


class Shape(StrEnum):
    """How an item is entered; each has one partial template of that name."""

    TICK = "tick"
    READING = "reading"
    BOUNDED = "bounded"
    CHOICE = "choice"
    TEXT = "text"
    PERSONAL = "personal"
    DRAWN = "drawn"
    PHOTO = "photo"
    SIGNATURE = "signature"
    PERSON = "person"
    EQUIPMENT = "equipment"
    SPARE = "spare"
    SERIES = "series"
    SAMPLE = "sample"
    TABLE = "table"
    TORQUE = "torque"
    DAY = "day"
    QUOTATION = "quotation"
    LOG = "log"


class Effect(StrEnum):
    """What an entered value does to the vehicle, beside being recorded.

    `ENDS_PROOF` undoes the isolation; `DOUBTS_PROOF` undoes nothing, yet a proof of absence of
    voltage in force counts no more.
    """

    NONE = ""
    ENDS_PROOF = "ends_proof"
    DOUBTS_PROOF = "doubts_proof"
    OPENS_PACK = "opens_pack"
    CLOSES_PACK = "closes_pack"


@dataclass(frozen=True, slots=True)
class Choice:
    """One possible answer of a choice item."""

    value: str
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Item(Generic[T]):
    """One thing a step asks for.

    Attributes
    ----------
    key : str
        Stable key; begins with the slug of its step. Never reused, never renamed.
    label : str
        What the technician reads; English, the key of its translation.
    shape : Shape
        How it is entered.
    read : Callable[[Json], T]
        Turns the stored value into its typed form.
    unit : str
        Unit of the number ("V", "ohm", "Pa", "Nm", "degC", ...).
    low, high : float | None
        What the number may be at all [same unit]; not a limit of the job.
    choices : tuple[Choice, ...]
        Possible answers of a choice item.
    rows : tuple[str, ...]
        Rows of a table item; set by the step from the pack definition.
    many : {"one", "each", "free"}
        One value, one for each qualifier, or any number.
    qualifiers : tuple[str, ...]
        Names of the parts of the qualifier of a collection item.
    offered : tuple[str, ...]
        Qualifiers that may be entered, in order; the page shows one card for each.
    expected : tuple[str, ...]
        As `offered`, and the gate asks for every one of them where the item is needed.
    options : Mapping[str, tuple[str, ...]]
        Possible answers for each part of a qualifier that is chosen when entering.
    needed : bool
        Whether the gate asks for it (collections: at least one value).
    group : str
        Heading under which the page shows it.
    help : str
        One line under the label.
    hold : str
        Hold point that has to be passed before it can be entered.
    needs_proof : bool
        Whether it is work on the circuit outside the pack, which has to be proven dead.
    anytime : bool
        Whether it may be entered whatever step is open (notes, photos, the proof's readings).
    on_paper : bool
        Whether it may be written on a printed sheet and typed in later.
    barred : Callable[[str], Blocker | None] | None
        What has to be done before the member of that qualifier may be entered.
    refused : Callable[[str, Json], Blocker | None] | None
        What stands against this very value for that qualifier, where not every value may be said.
    sheet : Callable[[str], object] | None
        What the page draws beside the entry of that qualifier; made only where it is shown.
    effect : Effect
        What entering it does to the vehicle.
    live_from : float | None
        Reading from which on the point is live and a proof in force ends [unit of the item].
    kinds : tuple[str, ...]
        Kinds of equipment it may pick.
    by : tuple[str, ...]
        Roles that may enter it; empty means the roles of the step.
    """

    key: str
    label: str
    shape: Shape
    read: Callable[[Json], T]
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: tuple[Choice, ...] = ()
    rows: tuple[str, ...] = ()
    many: Many = "one"
    qualifiers: tuple[str, ...] = ()
    offered: tuple[str, ...] = ()
    expected: tuple[str, ...] = ()
    options: Mapping[str, tuple[str, ...]] = field(default_factory=dict, hash=False)
    needed: bool = True
    group: str = ""
    help: str = ""
    hold: str = ""
    needs_proof: bool = False
    anytime: bool = False
    on_paper: bool = True
    barred: Callable[[str], Blocker | None] | None = field(default=None, compare=False)
    refused: Callable[[str, Json], Blocker | None] | None = field(default=None, compare=False)
    sheet: Callable[[str], object] | None = field(default=None, compare=False)
    effect: Effect = Effect.NONE
    live_from: float | None = None
    kinds: tuple[str, ...] = ()
    by: tuple[str, ...] = ()


def qualifier_of(**parts: str) -> str:
    """Write the parts of a qualifier in their one canonical form.

    Examples
    --------
    >>> qualifier_of(pole="pos", module="M7")
    'module=M7;pole=pos'
    """
    return ";".join(f"{name}={parts[name]}" for name in sorted(parts))


def qualifier_parts(qualifier: str) -> dict[str, str]:
    """Read the parts of a qualifier.

    Examples
    --------
    >>> qualifier_parts("module=M7;pole=pos")
    {'module': 'M7', 'pole': 'pos'}
    """
    pairs = (part.partition("=") for part in qualifier.split(";") if part)
    return {name: value for name, _, value in pairs}


def _read_bool(stored: Json) -> bool:
    return stored is True


def _read_float(stored: Json) -> float:
    return float(stored["number"])


def _read_bounded(stored: Json) -> Bounded:
    return Bounded(float(stored["number"]), stored["comparator"])


def _read_str(stored: Json) -> str:
    return str(stored)


def _read_personal(stored: Json) -> PersonalRef:
    return PersonalRef(stored["ref"], stored["sha256"])


def _read_photo(stored: Json) -> PhotoRef:
    return PhotoRef(stored["sha256"], stored["media_type"])


def _day(stored: Json) -> date | None:
    return date.fromisoformat(stored) if stored else None


def read_person(stored: Json) -> PersonUsed:
    """Read a person's snapshot."""
    held = {row["code"]: _day(row.get("expires_on")) for row in stored["qualifications"]}
    return PersonUsed(stored["id"], stored["role"], held)


def _read_equipment(stored: Json) -> EquipmentUsed:
    return EquipmentUsed(
        id=stored["id"],
        kind=stored["kind"],
        label=stored["label"],
        serial=stored.get("serial", ""),
        ratings=stored.get("ratings", {}),
        due_on=_day(stored.get("due_on")),
        withdrawn=bool(stored.get("withdrawn", False)),
        unusable=stored.get("unusable") or "",
    )


def _read_series(stored: Json) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(float(number) for number in row) for row in stored)


def _read_table(stored: Json) -> dict[str, float]:
    return {name: read_cell(cell) for name, cell in stored.items()}


def effect_of(item: Item[Any], value: Json) -> Effect:
    """Say what entering a stored value does: the item's effect, or that a reading shows voltage.

    Examples
    --------
    >>> item = bounded("x.volts", "Volts", unit="V", low=-9, high=9, live_from=5.0)
    >>> effect_of(item, {"number": "-6", "comparator": "="})
    <Effect.DOUBTS_PROOF: 'doubts_proof'>
    >>> effect_of(item, {"number": "6", "comparator": "<"})
    <Effect.NONE: ''>
    """
    if item.live_from is None or value["comparator"] == "<":
        return item.effect
    live = value["comparator"] == ">" or abs(float(value["number"])) >= item.live_from
    return Effect.DOUBTS_PROOF if live else item.effect


def tick(key: str, label: str, **more: Any) -> Item[bool]:
    """Make an item that is done by ticking it."""
    return Item(key=key, label=label, shape=Shape.TICK, read=_read_bool, **more)


def reading(
    key: str, label: str, *, unit: str, low: float, high: float, **more: Any
) -> Item[float]:
    """Make an item that takes one number with its unit."""
    more |= {"unit": unit, "low": low, "high": high}
    return Item(key=key, label=label, shape=Shape.READING, read=_read_float, **more)


def bounded(
    key: str, label: str, *, unit: str, low: float, high: float, **more: Any
) -> Item[Bounded]:
    """Make an item that takes a number, "more than" a number, or "below" a number."""
    more |= {"unit": unit, "low": low, "high": high}
    return Item(key=key, label=label, shape=Shape.BOUNDED, read=_read_bounded, **more)


def choice(key: str, label: str, choices: tuple[Choice, ...], **more: Any) -> Item[str]:
    """Make an item that takes one of the given answers."""
    return Item(key=key, label=label, shape=Shape.CHOICE, read=_read_str, choices=choices, **more)


def text(key: str, label: str, **more: Any) -> Item[str]:
    """Make an item that takes words which name no customer."""
    return Item(key=key, label=label, shape=Shape.TEXT, read=_read_str, **more)


def personal(key: str, label: str, **more: Any) -> Item[PersonalRef]:
    """Make an item that takes words about a person, kept where they can be erased."""
    return Item(key=key, label=label, shape=Shape.PERSONAL, read=_read_personal, **more)


def drawn(key: str, label: str, **more: Any) -> Item[PersonalRef]:
    """Make an item that takes a customer's signature, kept where it can be erased."""
    return Item(key=key, label=label, shape=Shape.DRAWN, read=_read_personal, **more)


def photo(key: str, label: str, **more: Any) -> Item[PhotoRef]:
    """Make an item that takes a picture."""
    return Item(key=key, label=label, shape=Shape.PHOTO, read=_read_photo, **more)


def signature(key: str, label: str, **more: Any) -> Item[PersonUsed]:
    """Make an item that another person than the one signed on answers with their PIN."""
    return Item(key=key, label=label, shape=Shape.SIGNATURE, read=read_person, **more)


def person(key: str, label: str, **more: Any) -> Item[PersonUsed]:
    """Make an item that picks a person of the workshop."""
    return Item(key=key, label=label, shape=Shape.PERSON, read=read_person, **more)


def equipment(key: str, label: str, kinds: tuple[str, ...], **more: Any) -> Item[EquipmentUsed]:
    """Make an item that picks equipment of certain kinds."""
    return Item(
        key=key, label=label, shape=Shape.EQUIPMENT, read=_read_equipment, kinds=kinds, **more
    )


def spare(key: str, label: str, **more: Any) -> Item[SpareUsed]:
    """Make an item that picks a spare module."""
    return Item(key=key, label=label, shape=Shape.SPARE, read=read_spare, **more)


def series(
    key: str, label: str, *, unit: str, low: float, high: float, **more: Any
) -> Item[tuple[tuple[float, ...], ...]]:
    """Make an item that takes rows of time [s] and reading; rows may carry further columns."""
    more |= {"unit": unit, "low": low, "high": high}
    return Item(key=key, label=label, shape=Shape.SERIES, read=_read_series, **more)


def table(
    key: str, label: str, *, unit: str, low: float, high: float, **more: Any
) -> Item[dict[str, float]]:
    """Make an item that takes one number for each of its rows."""
    more |= {"unit": unit, "low": low, "high": high}
    return Item(key=key, label=label, shape=Shape.TABLE, read=_read_table, **more)


def quotation(key: str, label: str, **more: Any) -> Item[Quotation]:
    """Make an item that takes lines with prices, tax and total."""
    return Item(key=key, label=label, shape=Shape.QUOTATION, read=read_quotation, **more)


_EVERYBODY = ("front_desk", "technician", "manager")


def free_note(slug: str) -> Item[str]:
    """Make the item for notes that every step has."""
    return text(f"{slug}.note", "Note", many="free", needed=False, anytime=True, by=_EVERYBODY)


def free_photo(slug: str) -> Item[PhotoRef]:
    """Make the item for photos that every step has."""
    return photo(f"{slug}.photo", "Photo", many="free", needed=False, anytime=True, by=_EVERYBODY)
