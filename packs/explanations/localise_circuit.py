"""What the meter would read with given leaks, by the section formula.

Here: the string in numbers and the formula. Not here: how leaks are found (physics/localise.py),
the steps (localise.py).
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from packs.explanations.readings import allowance_v
from packs.physics.localise_case import Leak, LocaliseCase, Place, Reading

SOUND_OHM = (1e7, 1e12)
"""Sound insulation of a whole string: from the worst one to practically perfect, [ohm]."""
STEPS, ROUNDS = 40, 3
CELLS_SD = 2.0
"""So many standard deviations of the cell voltages are allowed for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StringInVolts:
    """Cells below each module border, and the potential of each cell border."""

    names: tuple[str, ...]
    borders: tuple[int, ...]
    cells_v: tuple[float, ...]

    def at(self, cells: float) -> float:
        """Return the potential at a place, between two cell borders in proportion."""
        below = min(max(math.floor(cells), 0), len(self.cells_v) - 2)
        step_v = self.cells_v[below + 1] - self.cells_v[below]
        return self.cells_v[below] + (cells - below) * step_v

    def node(self, place: Place | Reading) -> int:
        """Return the cells below a pole."""
        return self.borders[self.names.index(place.module) + (place.pole == "pos")]

    def section(self, reading: Reading) -> tuple[int, int]:
        """Return the cells below both ends of the section that a pole is in."""
        index = self.names.index(reading.module)
        cuts = [0, *sorted(self.names.index(name) + 1 for name in set(reading.open_after))]
        low = max(cut for cut in cuts if cut <= index)
        high = min((cut for cut in cuts if cut > index), default=len(self.names))
        return self.borders[low], self.borders[high]


@dataclass(frozen=True, slots=True, kw_only=True)
class WouldRead:
    """One reading beside what the formula gives; conductances in siemens."""

    pole_v: float
    leaks_g: float
    leaks_v: float
    sound_g: float
    middle_v: float
    load_g: float
    volts: float
    allowed_v: float


def string_of(case: LocaliseCase) -> StringInVolts:
    """Return the string in numbers.

    Parameters
    ----------
    case : LocaliseCase
        What was given.

    Returns
    -------
    string : StringInVolts
        From pack negative.
    """
    counts = [each.cells for each in case.modules]
    volts = [case.cell_v] * sum(counts) if isinstance(case.cell_v, float | int) else case.cell_v
    return StringInVolts(
        names=tuple(each.name for each in case.modules),
        borders=(0, *itertools.accumulate(counts)),
        cells_v=(0.0, *itertools.accumulate(volts)),
    )


def would_read(
    case: LocaliseCase,
    string: StringInVolts,
    reading: Reading,
    leaks: Sequence[Leak],
    sound_ohm: float,
) -> WouldRead:
    """Return what a meter would read, and how far a true reading may be from it.

    Parameters
    ----------
    case : LocaliseCase
        The meter and its tolerances.
    string : StringInVolts
        The string in numbers.
    reading : Reading
        Pole, open links and shunt.
    leaks : Sequence[Leak]
        With size and place.
    sound_ohm : float
        Sound insulation of the whole string, [ohm]

    Returns
    -------
    found : WouldRead
        With everything that went into it.
    """
    low, high = string.section(reading)
    inside = [each for each in leaks if low <= each.position_cells <= high]
    leaks_g = sum(1.0 / each.leak_ohm for each in inside)
    weighted = sum(string.at(each.position_cells) / each.leak_ohm for each in inside)
    sound_g = (high - low) / string.borders[-1] / sound_ohm
    shunt_g = 1.0 / reading.shunt_ohm if reading.shunt_ohm else 0.0
    meter_g = 1.0 / case.meter.input_ohm
    pole_v, middle_v = string.at(string.node(reading)), (string.at(low) + string.at(high)) / 2.0
    total_g = leaks_g + sound_g + meter_g + shunt_g
    driven_a = leaks_g * pole_v - weighted + sound_g * (pole_v - middle_v)
    volts = driven_a / total_g
    load_off_g = (
        meter_g * case.meter.input_tolerance_percent + shunt_g * case.shunt_tolerance_percent
    ) / 100.0
    cells_v = CELLS_SD * case.cell_v_spread_v * math.sqrt(high - low)
    return WouldRead(
        pole_v=pole_v,
        leaks_g=leaks_g,
        leaks_v=weighted / leaks_g if leaks_g else 0.0,
        sound_g=sound_g,
        middle_v=middle_v,
        load_g=meter_g + shunt_g,
        volts=volts,
        allowed_v=allowance_v(case.meter, reading.volts)
        + cells_v * (leaks_g + sound_g) / total_g
        + abs(volts) * load_off_g / total_g,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BestSound:
    """The sound insulation that fits best, and the reading that fits worst even so."""

    sound_ohm: float
    worst: int
    times_allowed: float


def best_sound(case: LocaliseCase, leaks: Sequence[Leak], skipped: int | None) -> BestSound:
    """Return the sound insulation with which the worst reading fits best.

    Parameters
    ----------
    case : LocaliseCase
        What was given.
    leaks : Sequence[Leak]
        With size and place; none to see whether there need be any.
    skipped : int | None
        A reading that is under suspicion, [-]

    Returns
    -------
    best : BestSound
        From 10 megohm to practically none, [ohm]
    """
    readings = [(index, each) for index, each in enumerate(case.readings) if index != skipped]
    string = string_of(case)

    def tried(sound_ohm: float) -> BestSound:
        times, index = 0.0, readings[0][0] if readings else 0
        for number, each in readings:
            one = would_read(case, string, each, leaks, sound_ohm)
            missed = abs(each.volts - one.volts) / max(one.allowed_v, 1e-12)
            if missed > times:
                times, index = missed, number
        return BestSound(sound_ohm=sound_ohm, worst=index, times_allowed=times)

    low, high = SOUND_OHM
    best = tried(low)
    for _ in range(ROUNDS):
        found = [tried(low * (high / low) ** (step / STEPS)) for step in range(STEPS + 1)]
        at = min(range(len(found)), key=lambda index: found[index].times_allowed)
        best = found[at]
        low, high = found[max(at - 1, 0)].sound_ohm, found[min(at + 1, STEPS)].sound_ohm
    return best
