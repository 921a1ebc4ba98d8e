"""What is measured on a spare, and what its last two tests say of each other.

Pure data: the filters of a page write the numbers.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from types import MappingProxyType
from typing import Final

EQUAL: Final = "="
ABOVE: Final = ">"
COMPARATORS: Final = (EQUAL, ABOVE)
"""How an insulation reading is to be taken: as shown, or as a lower bound."""

FIGURES: Final = MappingProxyType(
    {
        "capacity_ah": "Capacity",
        "resistance_mohm": "Resistance over 10 s",
        "cell_v": "Mean cell voltage",
        "insulation_ohm": "Insulation to the housing",
    }
)
"""Measured values that a later test is compared with, and their words."""


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
    rest_h : float or None
        Rest without current before the cell voltage was read [h].
    """

    capacity_ah: float | None = None
    resistance_mohm: float | None = None
    cell_v: float | None = None
    tested_on: date | None = None
    insulation_ohm: float | None = None
    insulation_comparator: str = EQUAL
    insulation_test_v: float | None = None
    rest_h: float | None = None

    @property
    def insulation_is_bound(self) -> bool:
        """Whether the instrument showed more than the insulation kept."""
        return self.insulation_ohm is not None and self.insulation_comparator == ABOVE

    @property
    def measured(self) -> bool:
        """Whether anything was measured at all."""
        return any(getattr(self, name) is not None for name in FIGURES)

    def as_json(self) -> dict[str, object]:
        """Return the measured values as plain JSON, those not measured left out."""
        values = {key: value for key, value in asdict(self).items() if value is not None}
        if self.tested_on is not None:
            values["tested_on"] = self.tested_on.isoformat()
        if self.insulation_ohm is None:
            values.pop("insulation_comparator")
        return values


def read_test(values: Mapping[str, object]) -> SpareTest:
    """Read a test as ``SpareTest.as_json`` wrote it."""
    known = {name: values[name] for name in SpareTest.__dataclass_fields__ if name in values}
    day = known.get("tested_on")
    if isinstance(day, str):
        known["tested_on"] = date.fromisoformat(day)
    return SpareTest(**known)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class Comparison:
    """One value in two tests: "lower", "same", "higher", or "open" where a bound hides it.

    ``before`` and ``after`` stand in the unit of ``name``; ``change_percent`` is None where the
    instrument showed only a bound.
    """

    name: str
    label: str
    before: float
    after: float
    words: str
    change_percent: float | None

    @property
    def size_percent(self) -> float | None:
        """The change without its sign [%]; the words say the direction."""
        return None if self.change_percent is None else abs(self.change_percent)

    @property
    def before_figure(self) -> Mapping[str, float]:
        """The earlier value under its name, from which its unit follows."""
        return {self.name: self.before}

    @property
    def after_figure(self) -> Mapping[str, float]:
        """The later value under its name."""
        return {self.name: self.after}


def compared(before: SpareTest, after: SpareTest) -> tuple[Comparison, ...]:
    """Compare two tests of a spare value by value.

    Parameters
    ----------
    before, after : SpareTest
        The earlier and the later test.

    Returns
    -------
    tuple of Comparison
        One for each value that both measured, in the order of ``FIGURES``.

    Notes
    -----
    Two bounds, or a bound and a number on the side it leaves open, say nothing about a change.

    Examples
    --------
    >>> early, late = SpareTest(capacity_ah=112.0), SpareTest(capacity_ah=109.2)
    >>> [(each.words, each.change_percent) for each in compared(early, late)]
    [('lower', -2.5)]
    """
    found = []
    for name, label in FIGURES.items():
        was, now = getattr(before, name), getattr(after, name)
        if was is None or now is None:
            continue
        bounds = (False, False)
        if name == "insulation_ohm":
            bounds = (before.insulation_is_bound, after.insulation_is_bound)
        words = _words(was, now, *bounds)
        share = None if any(bounds) else round((now - was) / was * 100.0, 2)
        found.append(Comparison(name, label, was, now, words, share))
    return tuple(found)


def _words(before: float, after: float, before_bound: bool, after_bound: bool) -> str:  # noqa: FBT001
    """Say which way a value went, as far as bounds let it be known."""
    if before_bound or after_bound:
        if before_bound and not after_bound and after <= before:
            return "lower"
        return "higher" if after_bound and not before_bound and after >= before else "open"
    if after == before:
        return "same"
    return "lower" if after < before else "higher"


def last_two(tests: Sequence[SpareTest]) -> tuple[SpareTest, SpareTest] | None:
    """Give the last two tests by their day, later entries of one day last; None with fewer."""
    dated = sorted(
        (test for test in tests if test.measured), key=lambda test: test.tested_on or date.min
    )
    return (dated[-2], dated[-1]) if len(dated) > 1 else None
