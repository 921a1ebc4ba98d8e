"""Simulated packs whose leak is looked for: who leaks is known, what is read is drawn.

Here: the packs, their meters and the readings that are taken on them, right and wrong. Not here:
what is measured on them (test_localise.py).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from random import Random
from typing import Literal

from packs.physics.instrument import Meter
from packs.physics.localise import LocaliseCase, Module, Reading
from packs.physics.simulate import (
    MeterInHand,
    PackUnderTest,
    Probe,
    SimulatedLeak,
    SimulatedModule,
    meter_in_hand,
    meter_reading_v,
    shunt_in_hand,
)

SHUNT_OHM = 1.0e6
USUAL_OHM = (10.0**3.2, 10.0**6.6)
"""Leaks between 1.6 kilohm and 4 megohm."""
Pole = Literal["pos", "neg"]


@dataclass(frozen=True, slots=True)
class Search:
    """One pack, its meter, and what is known before anything is read."""

    pack: PackUnderTest
    in_hand: MeterInHand
    shunt_ohm: float
    disconnect: str
    empty: LocaliseCase
    chance: Random

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(module.name for module in self.pack.modules)

    @property
    def truth(self) -> frozenset[str]:
        return frozenset(leak.module for leak in self.pack.leaks)

    @property
    def hardest(self) -> SimulatedLeak:
        return min(self.pack.leaks, key=lambda leak: leak.leak_ohm)

    def cells_below(self, leak: SimulatedLeak) -> float:
        at = self.names.index(leak.module)
        return sum(len(each.cells_v) for each in self.pack.modules[:at]) + leak.position_cells

    def reading(
        self, module: str, pole: Pole, links: Iterable[str], *, shunted: bool = False
    ) -> Reading:
        open_after = tuple(name for name in self.names if name in set(links))
        shunt_ohm = self.shunt_ohm if shunted else None
        probe = Probe(module=module, pole=pole, open_after=open_after, shunt_ohm=shunt_ohm)
        return Reading(
            module=module,
            pole=pole,
            open_after=open_after,
            shunt_ohm=SHUNT_OHM if shunted else None,
            volts=meter_reading_v(self.pack, self.in_hand, probe, self.chance),
        )

    def both_sides(self, link: str, links: Iterable[str] = ()) -> list[Reading]:
        """Read both sides of one open link, without and with the shunt."""
        opened = {link, *links}
        above = self.names[self.names.index(link) + 1]
        spots: list[tuple[str, Pole]] = [(link, "pos"), (above, "neg")]
        return [
            self.reading(module, pole, opened, shunted=shunted)
            for module, pole in spots
            for shunted in (False, True)
        ]

    def links_beside(self, module: str) -> tuple[str, ...]:
        at = self.names.index(module)
        return tuple(self.names[one] for one in (at - 1, at) if 0 <= one < len(self.names) - 1)

    def beside_each(self) -> list[Reading]:
        """Read at the disconnect, then at both links beside every leaking module."""
        readings = self.both_sides(self.disconnect)
        for module in sorted(self.truth, key=self.names.index):
            for link in self.links_beside(module):
                readings += self.both_sides(link, (self.disconnect,))
        return readings

    def with_readings(self, readings: Sequence[Reading], *, propose: bool = False) -> LocaliseCase:
        return replace(self.empty, readings=tuple(readings), propose=propose)


def a_search(
    seed: int,
    leaks: int = 1,
    *,
    several_prior: float = 0.05,
    ohm: tuple[float, float] = USUAL_OHM,
) -> Search:
    """Draw a pack with so many leaks, and a meter."""
    chance = Random(seed)  # noqa: S311  (repeatable packs, not a secret)
    cell_v, spread_v = chance.uniform(3.3, 4.1), chance.uniform(0.005, 0.015)
    names = tuple(f"M{number}" for number in range(1, chance.randint(8, 28) + 1))
    usual = chance.randint(4, 14)
    cells = [usual if chance.random() < 0.8 else chance.randint(4, 14) for _ in names]
    modules = tuple(
        SimulatedModule(name=name, cells_v=_cells_v(count, cell_v, spread_v, chance))
        for name, count in zip(names, cells, strict=True)
    )
    meter = _meter(chance)
    pack = PackUnderTest(
        modules=modules,
        leaks=tuple(_leak(names, cells, ohm, chance) for _ in range(leaks)),
        sound_ohm=10.0 ** chance.uniform(7.0, 9.0),
    )
    empty = LocaliseCase(
        modules=tuple(Module(name=n, cells=count) for n, count in zip(names, cells, strict=True)),
        cell_v=cell_v,
        cell_v_spread_v=spread_v,
        meter=meter,
        readings=(),
        several_prior=several_prior,
    )
    return Search(
        pack=pack,
        in_hand=meter_in_hand(meter, chance),
        shunt_ohm=shunt_in_hand(SHUNT_OHM, 1.0, chance),
        disconnect=names[chance.randint(len(names) // 3, 2 * len(names) // 3) - 1],
        empty=empty,
        chance=chance,
    )


def _cells_v(count: int, cell_v: float, spread_v: float, chance: Random) -> tuple[float, ...]:
    """Draw the cells of a module."""
    return tuple(chance.gauss(cell_v, spread_v) for _ in range(count))


def _meter(chance: Random) -> Meter:
    """Draw the data sheet of a voltmeter."""
    return Meter(
        input_ohm=1.0e7,
        input_tolerance_percent=chance.choice((0.5, 1.0)),
        accuracy_percent=chance.uniform(0.1, 0.8),
        accuracy_counts=chance.choice((1, 2, 3)),
        resolution_v=chance.choice((0.01, 0.02, 0.05, 0.1)),
    )


def _leak(
    names: Sequence[str], cells: Sequence[int], ohm: tuple[float, float], chance: Random
) -> SimulatedLeak:
    """Draw a leak anywhere in the string, evenly in the logarithm of its size."""
    at = chance.choices(range(len(names)), weights=cells)[0]
    return SimulatedLeak(
        module=names[at],
        position_cells=chance.uniform(0.0, cells[at]),
        leak_ohm=10.0 ** chance.uniform(math.log10(ohm[0]), math.log10(ohm[1])),
    )


def mistaken(search: Search, readings: Sequence[Reading], kind: str) -> tuple[int, Reading]:
    """Make one reading wrong; give which one and what is written down instead."""
    chance = search.chance
    at = chance.randrange(len(readings))
    right = readings[at]
    if kind == "sign":
        return at, replace(right, volts=-right.volts)
    if kind == "decimal":
        return at, replace(right, volts=right.volts * chance.choice((0.1, 10.0)))
    if kind == "digit":
        return at, replace(right, volts=_other_digit(right.volts, search, chance))
    if kind == "swap":
        return at, replace(right, volts=_swapped(right.volts, search, chance))
    if kind == "pole":
        return at, replace(right, volts=_wrong_pole(search, right).volts)
    wrong = search.reading(
        right.module, right.pole, right.open_after, shunted=right.shunt_ohm is None
    )
    return at, replace(right, volts=wrong.volts)


def _digits(volts: float, search: Search) -> tuple[str, str]:
    step_v = search.empty.meter.resolution_v
    places = 1 if step_v >= 0.1 else 2
    return ("-" if volts < 0 else "", f"{abs(volts):.{places}f}")


def _other_digit(volts: float, search: Search, chance: Random) -> float:
    sign, text = _digits(volts, search)
    at = chance.choice([index for index, one in enumerate(text) if one != "."])
    digit = chance.choice([one for one in "0123456789" if one != text[at]])
    return float(sign + text[:at] + digit + text[at + 1 :])


def _swapped(volts: float, search: Search, chance: Random) -> float:
    sign, text = _digits(volts, search)
    places = [index for index, one in enumerate(text) if one != "."]
    at = chance.randrange(len(places) - 1)
    marks = list(text)
    one, two = places[at], places[at + 1]
    marks[one], marks[two] = marks[two], marks[one]
    return float(sign + "".join(marks))


def _wrong_pole(search: Search, right: Reading) -> Reading:
    """Put the lead on the module's other pole, or on the neighbour across the link."""
    at = search.names.index(right.module)
    beside = at + 1 if right.pole == "pos" else at - 1
    shunted = right.shunt_ohm is not None
    if 0 <= beside < len(search.names) and search.chance.random() < 0.5:
        facing: Pole = "neg" if right.pole == "pos" else "pos"
        return search.reading(search.names[beside], facing, right.open_after, shunted=shunted)
    other: Pole = "neg" if right.pole == "pos" else "pos"
    return search.reading(right.module, other, right.open_after, shunted=shunted)
