"""Spare modules as data: states, moves between them, and what pages and jobs see of one.

No Django and no stored rows here: those are in packs/models.py; changes go through
packs/actions. What two tests say of each other is packs/spare_tests.py.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from types import MappingProxyType
from typing import Final
from uuid import UUID

from packs.chemistries import CHEMISTRY_WORDS
from packs.spare_tests import SpareTest

IN_STOCK: Final = "in_stock"
RESERVED: Final = "reserved"
FITTED: Final = "fitted"
QUARANTINED: Final = "quarantined"
SCRAPPED: Final = "scrapped"

STATES: Final = MappingProxyType(
    {
        IN_STOCK: "in stock",
        RESERVED: "reserved",
        FITTED: "fitted",
        QUARANTINED: "quarantined",
        SCRAPPED: "scrapped",
    }
)
"""State code to the words shown."""

MOVES: Final[Mapping[str, frozenset[str]]] = MappingProxyType(
    {
        IN_STOCK: frozenset({IN_STOCK, RESERVED, QUARANTINED, SCRAPPED}),
        RESERVED: frozenset({RESERVED, IN_STOCK, FITTED, QUARANTINED}),
        FITTED: frozenset({QUARANTINED}),
        QUARANTINED: frozenset({QUARANTINED, IN_STOCK, SCRAPPED}),
        SCRAPPED: frozenset(),
    }
)
"""From each state the states that may follow; the same state means another place."""

JOB_MOVES: Final[Mapping[str, frozenset[str]]] = MappingProxyType(
    {
        IN_STOCK: frozenset({RESERVED}),
        RESERVED: frozenset({RESERVED, IN_STOCK, FITTED}),
        FITTED: frozenset({RESERVED}),
    }
)
"""What the entries of a job do; a swap that is re-opened holds its spare again."""

HELD_MOVES: Final = frozenset({RESERVED, QUARANTINED})
"""What may be done by hand while a job holds a spare: another place, and quarantine always."""

ADDED: Final = "added"
MOVED: Final = "moved"
TESTED: Final = "tested"

EVENTS: Final = MappingProxyType({ADDED: "came in", MOVED: "moved", TESTED: "tested"})
"""Kind of an event to the words shown."""

JOB_EVENTS: Final = MappingProxyType(
    {RESERVED: "picked in a job", FITTED: "fitted in a job", IN_STOCK: "let go by a job"}
)
"""State after an entry of a job to the words shown."""


@dataclass(frozen=True, slots=True)
class NewSpare:
    """What is entered when a module comes into the register; one removed begins in quarantine."""

    serial: str
    part: str
    chemistry: str
    cells: int
    provenance: str
    place: str = ""
    test: SpareTest = field(default_factory=SpareTest)
    state: str = IN_STOCK


@dataclass(frozen=True, slots=True)
class Bar:
    """One thing that bars a spare from use: a code, and the job that holds it if one does."""

    code: str
    job: str = ""

    @property
    def text(self) -> str:
        """The English sentence with its parameter, to be translated where it is shown."""
        return BARS[self.code]


BARS: Final = MappingProxyType(
    {
        "quarantined": "quarantined",
        "reserved": "reserved for job {job}",
        "set_aside": "set aside",
        "fitted": "fitted in job {job}",
        "fitted_elsewhere": "fitted",
        "scrapped": "scrapped",
        "no_test": "no test",
        "insulation_unread": "insulation not read",
    }
)
"""What bars a spare from use, in words."""


@dataclass(frozen=True, slots=True)
class SpareInfo:
    """A spare as pages and jobs see it.

    ``reserved_for`` is the number of the job that holds it, ``module`` the position there; both
    are empty where none does, ``module`` also where it was set aside by hand.
    """

    id: UUID
    serial: str
    part: str
    chemistry: str
    cells: int
    test: SpareTest
    provenance: str
    place: str
    state: str
    reserved_for: str = ""
    module: str = ""

    @property
    def state_words(self) -> str:
        """The words shown for the state."""
        return STATES.get(self.state, self.state)

    @property
    def chemistry_words(self) -> str:
        """The words shown for the chemistry."""
        return CHEMISTRY_WORDS.get(self.chemistry, self.chemistry)

    @property
    def quarantined(self) -> bool:
        """Whether the spare stands in quarantine."""
        return self.state == QUARANTINED

    @property
    def available(self) -> bool:
        """Whether the spare stands in stock."""
        return self.state == IN_STOCK

    @property
    def held(self) -> bool:
        """Whether an entry of a job holds it, not only a hand that set it aside."""
        return bool(self.reserved_for and self.module)


def bars(spare: SpareInfo, *, job: str = "") -> tuple[Bar, ...]:
    """Say what bars a spare from use.

    Parameters
    ----------
    spare : SpareInfo
        The spare as it stands.
    job : str
        Number of the job that asks; what is reserved for it is no bar.

    Returns
    -------
    tuple of Bar
        Its state first, then its missing measurements; empty where it may be used now.
    """
    found = [_state_bar(spare, job)]
    if spare.test.tested_on is None:
        found.append(Bar("no_test"))
    if spare.test.insulation_ohm is None:
        found.append(Bar("insulation_unread"))
    return tuple(bar for bar in found if bar is not None)


def _state_bar(spare: SpareInfo, job: str) -> Bar | None:
    """Say what bars a spare by where it is."""
    if spare.state == RESERVED:
        mine = bool(job) and spare.reserved_for == job
        code = "reserved" if spare.reserved_for else "set_aside"
        return None if mine else Bar(code, spare.reserved_for)
    if spare.state == FITTED:
        return Bar("fitted" if spare.reserved_for else "fitted_elsewhere", spare.reserved_for)
    return None if spare.state == IN_STOCK else Bar(spare.state)


def moves_by_hand(spare: SpareInfo) -> frozenset[str]:
    """Give the states to which a hand may bring a spare; fitting is a job's act."""
    allowed = MOVES[spare.state] - {FITTED}
    return allowed & HELD_MOVES if spare.held else allowed


@dataclass(frozen=True, slots=True)
class SpareEventInfo:
    """One line of a spare's history; a test stands in ``test``, a job by its number."""

    at: datetime
    kind: str
    state: str
    place: str
    note: str
    person_id: UUID | None
    values: Mapping[str, object]
    job: str = ""
    module: str = ""
    test: SpareTest = field(default_factory=SpareTest)

    @property
    def state_words(self) -> str:
        """The words shown for the state."""
        return STATES.get(self.state, self.state)

    @property
    def kind_words(self) -> str:
        """The words shown for what was done; what a job did has its own."""
        if self.kind == MOVED and self.module:
            return JOB_EVENTS.get(self.state, EVENTS[MOVED])
        return EVENTS.get(self.kind, self.kind)


def days_since(test: SpareTest, today: date) -> int | None:
    """Count the days since the last test [d]; None where there is none."""
    return None if test.tested_on is None else (today - test.tested_on).days
