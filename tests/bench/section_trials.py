"""Simulated sections of a string, of known leakage resistance, read at one pole or at two.

Here: cases drawn from the error model of the interface. Not here: how often intervals hold the
truth (test_coverage.py).
"""

from dataclasses import dataclass
from random import Random

from packs.physics.circuit import (
    Insulation,
    PathToEnclosure,
    load_resistance,
    section_from_shunt,
    section_from_two_poles,
    section_reading,
)
from packs.physics.simulated_meter import meter_in_hand, shown_v, shunt_in_hand
from tests.bench.coverage_table import Figure, Kind, Trial
from tests.bench.isolation_trials import METERS


@dataclass(frozen=True, slots=True)
class Section:
    """How large the leaks of a kind are, and how far from the pole that is read."""

    decades: tuple[float, float]
    away_v: tuple[float, float] = (20.0, 350.0)


def by_shunt(section: Section, chance: Random) -> Trial:
    """Read one pole without and with a shunt."""
    meter = chance.choice(METERS)
    total_ohm = 10.0 ** chance.uniform(*section.decades)
    away_v = chance.choice((-1.0, 1.0)) * chance.uniform(*section.away_v)
    shunt_ohm = chance.choice((4.0e4, 1.8e5, 1.0e6))
    true_ohm = meter_in_hand(meter, chance).input_ohm
    loads_ohm = true_ohm, load_resistance(true_ohm, shunt_in_hand(shunt_ohm, 1.0, chance))
    leak = [PathToEnclosure(potential_v=0.0, resistance_ohm=total_ohm)]
    reading_v, shunted_v = (
        shown_v(section_reading(away_v, leak, load_ohm), meter, chance) for load_ohm in loads_ohm
    )
    found = section_from_shunt(
        reading_v=reading_v,
        shunted_v=shunted_v,
        shunt_ohm=shunt_ohm,
        shunt_tolerance_percent=1.0,
        meter=meter,
    )
    return _trial(found, total_ohm, away_v)


def by_two_poles(section: Section, chance: Random) -> Trial:
    """Read two poles whose potential difference the cells give."""
    meter = chance.choice(METERS)
    total_ohm = 10.0 ** chance.uniform(*section.decades)
    difference_v, difference_u_v = chance.uniform(30.0, 400.0), chance.uniform(0.1, 1.0)
    upper_v = difference_v * chance.uniform(0.0, 1.0)
    load_ohm = meter_in_hand(meter, chance).input_ohm
    leak = [PathToEnclosure(potential_v=0.0, resistance_ohm=total_ohm)]
    shown = [
        shown_v(section_reading(node_v, leak, load_ohm), meter, chance)
        for node_v in (upper_v, upper_v - difference_v)
    ]
    found = section_from_two_poles(
        upper_v=shown[0],
        lower_v=shown[1],
        difference_v=difference_v + chance.uniform(-difference_u_v, difference_u_v),
        difference_u_v=difference_u_v,
        meter=meter,
    )
    return _trial(found, total_ohm, upper_v)


def _trial(found: Insulation, total_ohm: float, open_v: float) -> Trial:
    figures = [Figure("total_ohm", total_ohm, found.total_ohm_low, found.total_ohm_high)]
    if found.open_v_low is not None and found.open_v_high is not None:
        figures.append(Figure("open_v", open_v, found.open_v_low, found.open_v_high))
    return Trial(tuple(figures))


def _shunt(name: str, section: Section) -> Kind:
    return Kind("section", name, lambda chance: by_shunt(section, chance))


def _poles(name: str, section: Section) -> Kind:
    return Kind("section", name, lambda chance: by_two_poles(section, chance))


KINDS = (
    _shunt("one pole, hard leak", Section((3.0, 4.3))),
    _shunt("one pole, 20 kohm to 1 Mohm", Section((4.3, 6.0))),
    _shunt("one pole, soft, 1 to 30 Mohm", Section((6.0, 7.5))),
    _shunt("one pole, leak next to it", Section((4.0, 6.0), away_v=(0.05, 3.0))),
    _poles("two poles, 20 kohm to 1 Mohm", Section((4.3, 6.0))),
    _poles("two poles, 1 to 100 Mohm", Section((6.0, 8.0))),
)
