"""How often intervals hold the truth: counting, and the table that shows it.

Here: what one simulated case says and how many such cases are summed up. Not here: how cases are
drawn (the files ending in _trials.py) and the bounds (test_coverage.py).
"""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from random import Random

LEAST_PERCENT, MOST_PERCENT = 93.0, 97.0
MOST_WRONG_PERCENT = 2.5
MOST_BOUNDS = 0.1


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of one case: its truth and its interval; without an upper end it is a bound."""

    name: str
    truth: float
    low: float
    high: float | None

    @property
    def held(self) -> bool:
        return self.low <= self.truth and (self.high is None or self.truth <= self.high)


@dataclass(frozen=True, slots=True)
class Trial:
    """One simulated case: its figures, and whether its verdict was right, wrong or undecided."""

    figures: tuple[Figure, ...]
    verdict: str = ""


@dataclass(frozen=True, slots=True)
class Kind:
    """Cases of one kind; figures named in ``guarded`` may hold more than their interval says."""

    calculation: str
    name: str
    draw: Callable[[Random], Trial]
    guarded: frozenset[str] = frozenset()


@dataclass(slots=True)
class Count:
    """How many intervals of one figure there were; lower bounds are among them and apart."""

    cases: int = 0
    held: int = 0
    bounds: int = 0
    bounds_held: int = 0

    def add(self, figure: Figure) -> None:
        self.cases += 1
        self.held += figure.held
        if figure.high is None:
            self.bounds += 1
            self.bounds_held += figure.held

    @property
    def percent(self) -> float:
        return 100.0 * self.held / self.cases

    @property
    def one_sided(self) -> bool:
        """Whether so many are lower bounds that more than 95 % may hold."""
        return self.bounds > MOST_BOUNDS * self.cases


@dataclass(slots=True)
class Tally:
    """What many cases of one kind gave."""

    kind: Kind
    cases: int = 0
    counts: dict[str, Count] = field(default_factory=dict)
    verdicts: Counter[str] = field(default_factory=Counter)

    def add(self, trial: Trial) -> None:
        self.cases += 1
        self.verdicts[trial.verdict] += 1
        for figure in trial.figures:
            self.counts.setdefault(figure.name, Count()).add(figure)

    def most_percent(self, name: str) -> float:
        """Return how many may hold: more where bounds or a guarded figure are on the safe side."""
        free = self.counts[name].one_sided or name in self.kind.guarded
        return 100.0 if free else MOST_PERCENT


def judged(verdict: str, *, passes: bool) -> str:
    """Return whether a verdict is right, wrong, or none."""
    if verdict not in {"pass", "fail"}:
        return "undecided"
    return "right" if (verdict == "pass") is passes else "wrong"


def tally(kind: Kind, cases: int, seed: int) -> Tally:
    """Draw cases of a kind and count."""
    chance = Random(seed)  # noqa: S311  (repeatable cases, not a secret)
    counted = Tally(kind)
    for _ in range(cases):
        counted.add(kind.draw(chance))
    return counted


def rows(tallies: Iterable[Tally]) -> list[str]:
    """Return the table as lines."""
    head = f"{'calculation':12}{'kind':36}{'figure':18}{'cases':>6}{'held %':>8}  {'bound':9}"
    lines = [head + f"{'of them lower bounds':>22}{'held %':>8}"]
    for counted in tallies:
        for name, count in sorted(counted.counts.items()):
            bound = f"{LEAST_PERCENT:g}..{counted.most_percent(name):g}"
            line = (
                f"{counted.kind.calculation:12}{counted.kind.name:36}{name:18}{count.cases:6}"
                f"{count.percent:8.1f}  {bound:9}{count.bounds:22}"
            )
            share = 100.0 * count.bounds_held / count.bounds if count.bounds else None
            lines.append(line + ("" if share is None else f"{share:8.1f}"))
    return lines


def verdict_rows(tallies: Iterable[Tally]) -> list[str]:
    """Return how verdicts near the limit came out, as lines."""
    lines = [
        f"{'calculation':12}{'kind':36}{'cases':>6}{'undecided %':>13}{'wrong % of decided':>20}"
    ]
    for counted in tallies:
        if set(counted.verdicts) == {""}:
            continue
        lines.append(
            f"{counted.kind.calculation:12}{counted.kind.name:36}{counted.cases:6}"
            f"{100.0 * counted.verdicts['undecided'] / counted.cases:13.1f}"
            f"{wrong_percent(counted):20.2f}"
        )
    return lines


def wrong_percent(counted: Tally) -> float:
    """Return how many of the cases that passed or failed did so wrongly, in percent."""
    decided = counted.verdicts["right"] + counted.verdicts["wrong"]
    return 100.0 * counted.verdicts["wrong"] / max(decided, 1)


def outside(counted: Tally, fewest: int) -> list[str]:
    """Return the figures that do not keep their bound, of those drawn often enough to tell."""
    return [
        f"{counted.kind.calculation} {counted.kind.name} {name}: {count.percent:.1f} %"
        for name, count in counted.counts.items()
        if count.cases >= fewest
        and not LEAST_PERCENT <= count.percent <= counted.most_percent(name)
    ]
