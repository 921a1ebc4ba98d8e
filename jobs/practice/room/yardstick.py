"""How many readings it takes to name what leaks in a pack by following the proposals.

Played on the same hidden vehicle with sound instruments. Not here: what was done (`marking`).
"""

import random
from typing import Final, Literal

from jobs.core.insulation import meter_of
from jobs.core.item import EquipmentUsed
from jobs.core.leak_search import plug_links
from jobs.practice.room.faults import Hidden
from jobs.practice.room.rig import Rig
from packs.definition import PackDefinition
from packs.physics.instrument import CalculationRefused
from packs.physics.localise import localise
from packs.physics.localise_case import LocaliseCase, Module, NextReading, Reading
from packs.physics.simulate import (
    PackUnderTest,
    Probe,
    SimulatedLeak,
    meter_in_hand,
    meter_reading_v,
    shunt_in_hand,
)

__all__ = ["readings_needed"]

MOST_READINGS: Final = 24
_Wanted = tuple[str, Literal["pos", "neg"], tuple[str, ...], bool]


def _closed(pack: PackDefinition) -> list[_Wanted]:
    """Give the readings at the closed pack: each point without and with the shunt."""
    return [
        (point.module, "neg" if point.pole == "neg" else "pos", plug_links(pack), fitted)
        for point in pack.isolation_points
        if point.reachable == "closed"
        for fitted in (False, True)
    ]


def _wanted(one: NextReading) -> _Wanted:
    return one.module, one.pole, tuple(one.open_after), one.shunt_ohm is not None


class _Reader:
    """Reads the hidden pack with a sound meter and shunt."""

    def __init__(
        self, hidden: Hidden, rig: Rig, meter: EquipmentUsed, shunt: EquipmentUsed
    ) -> None:
        self.chance = random.Random(f"{hidden.recipe.seed} yardstick")  # noqa: S311
        leaks = tuple(SimulatedLeak(**leak.model_dump()) for leak in hidden.recipe.leaks)
        self.string = PackUnderTest(modules=rig.modules, leaks=leaks)
        self.in_hand = meter_in_hand(meter_of(meter), self.chance)
        self.ohm = shunt.number("ohm")
        self.tolerance_percent = shunt.number("tolerance_percent")
        self.true_ohm = shunt_in_hand(self.ohm, self.tolerance_percent, self.chance)

    def read(self, wanted: _Wanted) -> Reading:
        """Take one reading."""
        module, pole, links, fitted = wanted
        probe = Probe(
            module=module,
            pole=pole,
            open_after=links,
            shunt_ohm=self.true_ohm if fitted else None,
        )
        volts = meter_reading_v(self.string, self.in_hand, probe, self.chance)
        ohm = self.ohm if fitted else None
        return Reading(module=module, pole=pole, open_after=links, shunt_ohm=ohm, volts=volts)


def readings_needed(
    hidden: Hidden, rig: Rig, meter: EquipmentUsed, shunt: EquipmentUsed
) -> int | None:
    """Count the readings that following the proposals needs on a hidden vehicle.

    Parameters
    ----------
    hidden : Hidden
        The vehicle.
    rig : Rig
        Its bench.
    meter, shunt : EquipmentUsed
        Sound ones.

    Returns
    -------
    int | None
        Readings at the closed pack counted; None where even they do not confirm a module.
    """
    pack, reader = rig.pack, _Reader(hidden, rig, meter, shunt)
    taken = _closed(pack)
    readings = [reader.read(each) for each in taken]
    if not hidden.modules:
        return len(readings)
    while len(readings) < MOST_READINGS:
        case = LocaliseCase(
            modules=tuple(Module(name=one.name, cells=one.cells) for one in pack.modules),
            cell_v=rig.string_v() / pack.cells_total,
            meter=meter_of(meter),
            readings=tuple(readings),
            shunt_tolerance_percent=reader.tolerance_percent,
        )
        try:
            found = localise(case)
        except CalculationRefused:
            return None
        if found.verdict == "named" and found.confirmed:
            return len(readings)
        fresh = (each for each in map(_wanted, found.next_readings) if each not in taken)
        following = next(fresh, None)
        if following is None:
            return None
        taken.append(following)
        readings.append(reader.read(following))
    return None
