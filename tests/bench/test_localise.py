"""How often localise names the right module, how honest its figures are, how long it takes.

Prints a table: what was measured, on how many cases, the figure and the bounds that it must keep.
Where the goal is stricter than what is reached, it stands beside and says whether it is missed.
The packs and their meters are drawn in leak_searches.py.
"""

import statistics
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from random import Random

import pytest

from packs.physics.localise import LocaliseResult, Reading, localise
from packs.physics.localise_priors import LEAK_OHM_HIGH, LEAK_OHM_LOW
from tests.bench.leak_searches import Search, a_search, mistaken

pytestmark = pytest.mark.bench

SINGLES, PAIRS, MIXED, FOLLOWED, MISTAKEN, TIMED = 1000, 300, 600, 120, 100, 15
WHOLE_RANGE_OHM = (LEAK_OHM_LOW, LEAK_OHM_HIGH)
KINDS = ("sign", "decimal", "digit", "swap", "pole", "shunt")
MATERIAL = 5.0
FAST_MS, WITH_PROPOSALS_MS = 60.0, 250.0
HELD = (0.93, 0.97)
"""What a 95 % interval should hold."""
ACCUSED = (0.9, 1.0)


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of the table."""

    name: str
    cases: int
    figure: float
    least: float = float("-inf")
    most: float = float("inf")
    goal: tuple[float, float] | None = None

    @property
    def kept(self) -> bool:
        return self.least <= self.figure <= self.most

    def line(self) -> str:
        bounds = f"{self.least:g} .. {self.most:g}"
        mark = "" if self.kept else "  <-- outside"
        if self.goal is not None:
            reached = self.goal[0] <= self.figure <= self.goal[1]
            said = "reached" if reached else "MISSED"
            mark += f"  goal {self.goal[0]:g} .. {self.goal[1]:g} {said}"
        return f"{self.name:<58} {self.cases:>6} {self.figure:>10.4f}   {bounds}{mark}"


@dataclass(slots=True)
class Share:
    """A count of hits among cases."""

    hits: int = 0
    cases: int = 0

    def add(self, hit: object) -> None:
        self.hits += bool(hit)
        self.cases += 1

    def figure(
        self,
        name: str,
        least: float = 0.0,
        most: float = 1.0,
        goal: tuple[float, float] | None = None,
    ) -> Figure:
        return Figure(name, self.cases, self.hits / max(1, self.cases), least, most, goal)


@dataclass(slots=True)
class Calibration:
    """Of modules given about so much, how many leak."""

    given: Counter[int] = field(default_factory=Counter)
    sums: Counter[int] = field(default_factory=Counter)
    leaks: Counter[int] = field(default_factory=Counter)

    def add(self, result: LocaliseResult, truth: frozenset[str]) -> None:
        for each in result.modules:
            slot = min(9, int(10.0 * each.probability))
            self.given[slot] += 1
            self.sums[slot] += each.probability  # type: ignore[assignment]
            self.leaks[slot] += each.name in truth

    def figures(self, name: str) -> list[Figure]:
        """Bound each bin by four standard deviations of what it claims."""
        found = []
        for slot in sorted(self.given):
            cases = self.given[slot]
            mean = self.sums[slot] / cases
            room = 4.0 * (max(mean * (1.0 - mean), 1.0 / cases) / cases) ** 0.5
            share = self.leaks[slot] / cases
            text = f"{name}: given {mean:.3f}"
            found.append(Figure(text, cases, share, max(0.0, mean - room), min(1.0, mean + room)))
        return found


def shown(capsys: pytest.CaptureFixture[str], title: str, figures: Iterable[Figure]) -> None:
    lines = list(figures)
    with capsys.disabled():
        print(f"\n{title:<58} {'cases':>6} {'figure':>10}   bounds")  # noqa: T201
        for each in lines:
            print(each.line())  # noqa: T201
    assert [each.name for each in lines if not each.kept] == []


def test_single_leaks_read_at_the_disconnect(capsys: pytest.CaptureFixture[str]) -> None:
    first, sure, right, false_alarm, ohm, place = (Share() for _ in range(6))
    for seed in range(SINGLES):
        search = a_search(seed)
        result = localise(search.with_readings(search.both_sides(search.disconnect)))
        top = result.modules[0]
        first.add(top.name in search.truth)
        sure.add(top.probability >= 0.95)
        if top.probability >= 0.95:
            right.add(top.name in search.truth)
        false_alarm.add(result.inconsistent)
        leak = search.hardest
        assert result.leak_ohm_low is not None
        assert result.leak_ohm_high is not None
        ohm.add(result.leak_ohm_low <= leak.leak_ohm <= result.leak_ohm_high)
        assert result.position_cells_low is not None
        assert result.position_cells_high is not None
        cells = search.cells_below(leak)
        place.add(result.position_cells_low <= cells <= result.position_cells_high)
        assert not result.confirmed
    figures = [
        first.figure("right module first", 0.985),
        sure.figure("a module is given 95 % or more", 0.95),
        right.figure("of these, right", 0.995),
        false_alarm.figure("clean readings called inconsistent", 0.0, 0.005),
        ohm.figure("interval of leak_ohm holds the truth", 0.93, 0.975, HELD),
        place.figure("interval of position_cells holds the truth", 0.93, 0.975, HELD),
    ]
    shown(capsys, "one leak, four readings at the disconnect", figures)


def test_two_leaks_with_links_beside_them_opened(capsys: pytest.CaptureFixture[str]) -> None:
    named, early, false_alarm, ohm = (Share() for _ in range(4))
    for seed in range(PAIRS):
        search = a_search(seed, 2)
        first = search.both_sides(search.disconnect)
        early.add(localise(search.with_readings(first)).confirmed)
        result = localise(search.with_readings(search.beside_each()))
        found = {leak.module for leak in result.leaks}
        named.add(result.verdict == "named" and found == search.truth)
        false_alarm.add(result.inconsistent)
        assert result.leak_ohm_low is not None
        assert result.leak_ohm_high is not None
        ohm.add(result.leak_ohm_low <= search.hardest.leak_ohm <= result.leak_ohm_high)
    figures = [
        named.figure("both named", 0.97),
        early.figure("confirmed before a link was opened", 0.0, 0.0),
        false_alarm.figure("clean readings called inconsistent", 0.0, 0.005),
        ohm.figure("interval of leak_ohm holds the harder leak (prior 5 %)", goal=HELD),
    ]
    shown(capsys, "two leaks, links beside them opened", figures)


@pytest.mark.parametrize("leaks", [1, 2])
def test_intervals_hold_a_truth_drawn_as_it_is_believed(
    leaks: int, capsys: pytest.CaptureFixture[str]
) -> None:
    ohm = Share()
    for seed in range(PAIRS):
        share = 0.05 if leaks == 1 else 0.95
        search = a_search(60_000 + seed, leaks, several_prior=share, ohm=WHOLE_RANGE_OHM)
        result = localise(search.with_readings(search.beside_each()))
        found = result.leak_ohm_low is not None and result.leak_ohm_high is not None
        truth_ohm = search.hardest.leak_ohm
        assert found
        ohm.add((result.leak_ohm_low or 0.0) <= truth_ohm <= (result.leak_ohm_high or 0.0))
    figures = [ohm.figure("interval of leak_ohm holds the hardest leak", 0.92, 0.98, HELD)]
    shown(capsys, f"intervals, links beside each of {leaks} leaking opened", figures)


@pytest.mark.parametrize("share", [0.05, 0.3])
def test_probabilities_mean_what_they_say(share: float, capsys: pytest.CaptureFixture[str]) -> None:
    bins, false_alarm = Calibration(), Share()
    for seed in range(MIXED):
        several = Random(seed).random() < share  # noqa: S311  (repeatable, not a secret)
        search = a_search(10_000 + seed, 2 if several else 1, several_prior=share)
        result = localise(search.with_readings(search.both_sides(search.disconnect)))
        bins.add(result, search.truth)
        false_alarm.add(result.inconsistent)
    figures = bins.figures(f"{share:.0%} pairs")
    figures.append(false_alarm.figure("clean readings called inconsistent", 0.0, 0.005))
    shown(capsys, f"calibration, {share:.0%} of cases are pairs", figures)


def followed(search: Search, readings: Sequence[Reading], most: int) -> tuple[LocaliseResult, int]:
    """Take what is proposed first until all is confirmed; strike what a repeat showed wrong."""
    taken = list(readings)
    result = localise(search.with_readings(taken, propose=True))
    struck = 0
    while not result.confirmed and len(taken) + struck - len(readings) < most:
        asked = result.next_readings[0]
        shunted = asked.shunt_ohm is not None
        taken.append(search.reading(asked.module, asked.pole, asked.open_after, shunted=shunted))
        struck += strike_repeated(search, taken)
        result = localise(search.with_readings(taken, propose=True))
    return result, len(taken) + struck - len(readings)


def strike_repeated(search: Search, taken: list[Reading]) -> int:
    """Strike the accused reading where it has been taken again, as its card allows."""
    result = localise(search.with_readings(taken))
    if not result.inconsistent or result.suspect_reading is None:
        return 0
    accused = taken[result.suspect_reading]
    if sum(replace(each, volts=accused.volts) == accused for each in taken) < 2:
        return 0
    del taken[result.suspect_reading]
    return 1


@pytest.mark.parametrize(("leaks", "most"), [(1, 3), (2, 7)])
def test_following_the_proposals(leaks: int, most: int, capsys: pytest.CaptureFixture[str]) -> None:
    counts, confirmed, right = [], Share(), Share()
    for seed in range(FOLLOWED // leaks):
        search = a_search(20_000 + seed, leaks)
        result, count = followed(search, search.both_sides(search.disconnect), 16)
        counts.append(count)
        confirmed.add(result.confirmed)
        if result.confirmed:
            right.add({leak.module for leak in result.leaks} == search.truth)
    figures = [
        Figure("further readings, median", len(counts), statistics.median(counts), 0.0, most),
        Figure("further readings, mean", len(counts), statistics.mean(counts)),
        confirmed.figure("confirmed within 16", 0.97),
        right.figure("of these, right", 0.98),
    ]
    shown(capsys, f"following the proposals from the disconnect, {leaks} leaking", figures)


def test_following_the_proposals_from_one_reading(capsys: pytest.CaptureFixture[str]) -> None:
    counts, right = [], Share()
    for seed in range(FOLLOWED // 2):
        search = a_search(30_000 + seed)
        only = search.reading(search.disconnect, "pos", (search.disconnect,))
        result, count = followed(search, [only], 16)
        counts.append(count)
        right.add(result.confirmed and {leak.module for leak in result.leaks} == search.truth)
    figures = [
        Figure(
            "further readings, median", len(counts), statistics.median(counts), 0.0, 5.0, (0.0, 3.0)
        ),
        right.figure("confirmed and right", 0.97),
    ]
    shown(capsys, "following the proposals from one reading", figures)


def several_readings(search: Search, count: int) -> list[Reading]:
    """Read at the disconnect, then the poles at the links beside the leaking module."""
    readings = search.both_sides(search.disconnect)
    (module,) = search.truth
    for link in search.links_beside(module):
        above = search.names[search.names.index(link) + 1]
        opened = (search.disconnect, link)
        readings.append(search.reading(link, "pos", opened))
        readings.append(search.reading(above, "neg", opened))
    unlike = {(each.module, each.pole, each.open_after, each.shunt_ohm): each for each in readings}
    return list(unlike.values())[:count]


def material(search: Search, right: Reading, wrong: Reading) -> bool:
    largest = max(abs(right.volts), abs(wrong.volts))
    return abs(right.volts - wrong.volts) > MATERIAL * search.empty.meter.half_width_v(largest)


def spoiled(count: int, kind: str) -> Iterable[tuple[Search, int, list[Reading]]]:
    """Draw cases with one reading materially wrong."""
    for seed in range(40_000, 40_000 + MISTAKEN):
        search = a_search(seed)
        readings = several_readings(search, count)
        at, wrong = mistaken(search, readings, kind)
        if material(search, readings[at], wrong):
            yield search, at, [*readings[:at], wrong, *readings[at + 1 :]]


@pytest.mark.parametrize(("count", "least"), [(4, 0.6), (6, 0.88), (8, 0.9)])
def test_a_wrong_reading_is_accused(
    count: int, least: float, capsys: pytest.CaptureFixture[str]
) -> None:
    figures, all_accused = [], Share()
    for kind in KINDS:
        noticed, accused, listed = Share(), Share(), Share()
        for search, at, readings in spoiled(count, kind):
            result = localise(search.with_readings(readings))
            noticed.add(result.inconsistent)
            accused.add(result.inconsistent and result.suspect_reading == at)
            all_accused.add(result.inconsistent and result.suspect_reading == at)
            listed.add(at in [each.reading for each in result.suspects[:2]])
        figures.append(noticed.figure(f"{kind}: inconsistent"))
        figures.append(accused.figure(f"{kind}: the right one accused", goal=ACCUSED))
        figures.append(listed.figure(f"{kind}: among the first two suspects"))
    figures.append(all_accused.figure("all kinds: the right one accused", least, goal=ACCUSED))
    shown(capsys, f"one wrong reading among {count}", figures)


def test_a_wrong_reading_is_found_out_on_the_way(capsys: pytest.CaptureFixture[str]) -> None:
    confirmed, wrong = Share(), Share()
    for kind in KINDS:
        for search, _, readings in list(spoiled(4, kind))[:20]:
            result, _ = followed(search, readings, 12)
            confirmed.add(result.confirmed)
            wrong.add(result.confirmed and {each.module for each in result.leaks} != search.truth)
    figures = [
        confirmed.figure("confirmed within 12 further readings", 0.9),
        wrong.figure("a wrong module confirmed", 0.0, 0.03),
    ]
    shown(capsys, "one wrong reading among four, then the proposals", figures)


def milliseconds(act: Callable[[], object]) -> float:
    """Processor time, so that a busy machine does not count."""
    before = time.process_time()
    act()
    return (time.process_time() - before) * 1000.0


@pytest.mark.parametrize(("propose", "most"), [(False, FAST_MS), (True, WITH_PROPOSALS_MS)])
def test_speed(propose: bool, most: float, capsys: pytest.CaptureFixture[str]) -> None:
    drawn = (a_search(seed) for seed in range(50_000, 52_000))
    of_24 = [search for search in drawn if len(search.names) == 24][:TIMED]
    took = []
    for search in of_24:
        case = search.with_readings(search.beside_each()[:12], propose=propose)
        localise(case)
        took.append(milliseconds(lambda case=case: localise(case)))  # type: ignore[misc]
    name = f"24 modules, 12 readings, {'with' if propose else 'without'} proposals"
    figure = Figure(f"{name}: median, ms", len(took), statistics.median(took), 0.0, most)
    shown(capsys, "speed", [figure])
