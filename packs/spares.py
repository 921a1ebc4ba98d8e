"""Spare modules as data: states, moves between them, and what pages and jobs see of one.

No Django and no stored rows here: those are in packs/models.py; changes go through
packs/actions.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime
from types import MappingProxyType
from typing import Final
from uuid import UUID

from packs.sheet import CHEMISTRY_WORDS

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

ADDED: Final = "added"
MOVED: Final = "moved"
TESTED: Final = "tested"

EQUAL: Final = "="
ABOVE: Final = ">"
COMPARATORS: Final = (EQUAL, ABOVE)
"""How an insulation reading is to be taken: as shown, or as a lower bound."""


@dataclass(frozen=True, slots=True)
class SpareTest:
    """What was measured on a spare; None where it was not measured.

    Parameters
    ----------
    capacity_ah : float or None
        Capacity at the module's terminals [Ah].
    resistance_mohm : float or None
        Resistance over ten seconds [mohm].
    cell_v : float or None
        Mean cell voltage at rest [V].
    tested_on : date or None
        Day of the test.
    insulation_ohm : float or None
        Insulation of the module against its housing [ohm].
    insulation_comparator : str
        "=" as shown, ">" a lower bound.
    insulation_test_v : float or None
        Test voltage of the insulation reading [V].
    """

    capacity_ah: float | None = None
    resistance_mohm: float | None = None
    cell_v: float | None = None
    tested_on: date | None = None
    insulation_ohm: float | None = None
    insulation_comparator: str = EQUAL
    insulation_test_v: float | None = None

    @property
    def insulation_is_bound(self) -> bool:
        """Whether the instrument showed more than the insulation kept."""
        return self.insulation_ohm is not None and self.insulation_comparator == ABOVE

    def as_json(self) -> dict[str, object]:
        """Return the measured values as plain JSON, those not measured left out."""
        values = {key: value for key, value in asdict(self).items() if value is not None}
        if self.tested_on is not None:
            values["tested_on"] = self.tested_on.isoformat()
        if self.insulation_ohm is None:
            values.pop("insulation_comparator")
        return values


@dataclass(frozen=True, slots=True)
class NewSpare:
    """What is entered when a spare comes into the shop."""

    serial: str
    part: str
    chemistry: str
    cells: int
    provenance: str
    place: str = ""
    test: SpareTest = SpareTest()


@dataclass(frozen=True, slots=True)
class SpareInfo:
    """A spare as pages and jobs see it."""

    id: UUID
    serial: str
    part: str
    chemistry: str
    cells: int
    test: SpareTest
    provenance: str
    place: str
    state: str

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
        """Whether the spare may be picked for a job."""
        return self.state == IN_STOCK


@dataclass(frozen=True, slots=True)
class SpareEventInfo:
    """One line of a spare's history."""

    at: datetime
    kind: str
    state: str
    place: str
    note: str
    person_id: UUID | None
    values: Mapping[str, object]

    @property
    def state_words(self) -> str:
        """The words shown for the state."""
        return STATES.get(self.state, self.state)
