"""The bench of a practice job: its hidden vehicle as it stands now, and what is true at each place.

The same seed gives the same vehicle; each look has its own small errors. A leak that dries, a meter
with a flat battery and capacitors that discharge are here. Not here: which places can be reached
and how a display shows it (`looking`).
"""

import math
import random
from dataclasses import dataclass, field, replace
from typing import Final

from typing_extensions import override

from jobs.core.insulation import meter_of
from jobs.core.item import EquipmentUsed
from jobs.core.leak_search import plug_links
from jobs.core.record import Record
from jobs.practice.bench import MODULE_OHM, Bench, Pole
from jobs.practice.room.faults import Hidden
from jobs.steps.de_energise_check.assessment import isolated_at
from jobs.steps.fault_localisation.items import LINK_OPENED
from jobs.steps.module_swap.items import LINKS as SWAP_LINKS
from jobs.steps.reassembly.items import LINKS as OWN_LINKS
from packs.physics.simulate import (
    MeterInHand,
    PackUnderTest,
    Probe,
    meter_in_hand,
    settled_v,
    settling_series,
    shunt_in_hand,
)

__all__ = ["LOOK_S", "Rig", "Series"]

Series = list[tuple[float, float]]
"""Seconds since the leads were put on, and what is shown [s, V]."""

_STRING_UF: Final = 0.4
"""Capacitance of the whole string to the enclosure [uF]: a reading takes seconds to settle."""
_LINK_TAU_S: Final = 54.0
"""Time constant with which the capacitors outside the pack discharge [s]."""
_SAME_V: Final = 1.0e12
"""Input resistance that loads nothing [ohm]."""
LOOK_S: Final = 24.0
"""How long a look at a meter lasts [s]."""
_STEP_S: Final = 0.4
_LOW: Final = 0.78
"""Share of the true voltage that a meter with a flat battery shows [1]."""
_DRIFT_PER_S: Final = 0.012
"""Share by which a drifting meter falls every second [1/s]."""


def _chance(*words: object) -> random.Random:
    """Give a source of chance that repeats; it does not have to be secret."""
    return random.Random(" ".join(str(word) for word in words))  # noqa: S311


def elapsed_h(record: Record) -> float:
    """Give how long the job runs by its own time [h]."""
    began = record.entries[0].at
    return max(0.0, (record.now - began).total_seconds() / 3600.0)


@dataclass
class Rig(Bench):
    """The bench of one practice job at one look."""

    hidden: Hidden = field(kw_only=True)
    look: int = field(default=0, kw_only=True)

    @override
    def __post_init__(self) -> None:
        super().__post_init__()
        # The vehicle is drawn; what follows are the errors of this one look.
        self.chance = _chance(self.recipe.seed, "look", self.look)

    @override
    def string(self, record: Record) -> PackUnderTest:
        """Give the string as it is at this point of the job; a wet leak has dried a little."""
        found = super().string(record)
        grown = 1.0
        if self.hidden.drying_h > 0.0:
            grown = min(2.5, 1.0 + elapsed_h(record) / self.hidden.drying_h)
        leaks = tuple(replace(leak, leak_ohm=leak.leak_ohm * grown) for leak in found.leaks)
        return replace(found, leaks=leaks, capacitance_uf=_STRING_UF)

    @override
    def _meter(self, used: EquipmentUsed) -> MeterInHand:
        return meter_in_hand(meter_of(used), _chance(self.recipe.seed, used.id))

    @override
    def _probe(self, where: Pole) -> Probe:
        shunt_ohm = None
        if where.shunt is not None:
            ohm, tolerance = where.shunt.number("ohm"), where.shunt.number("tolerance_percent")
            chance = _chance(self.recipe.seed, where.shunt.id)
            shunt_ohm = shunt_in_hand(ohm, tolerance, chance)
        return Probe(
            module=where.module,
            pole="neg" if where.pole == "neg" else "pos",
            open_after=where.open_after,
            shunt_ohm=shunt_ohm,
        )

    def links_open(self, record: Record) -> tuple[str, ...]:
        """Name the links that are open now, the disconnect's among them."""
        always = plug_links(self.pack)
        closed = any(record.has(each.last.values) for each in (SWAP_LINKS, OWN_LINKS))
        opened = set() if closed else {given.part("after") for given in record.all(LINK_OPENED)}
        names = (module.name for module in self.pack.modules)
        return tuple(name for name in names if name in opened or name in always)

    def is_flat(self, used: EquipmentUsed) -> bool:
        """Tell whether the battery of an instrument is flat."""
        return bool(self.hidden.flat) and used.label == self.hidden.flat

    def _as_shown(self, used: EquipmentUsed, series: Series) -> Series:
        """Give what a voltmeter shows, its battery flat or not."""
        if not self.is_flat(used):
            return series
        if self.hidden.flat_mode == "drift":
            return [(t, volts * math.exp(-_DRIFT_PER_S * t)) for t, volts in series]
        return [(t, volts * _LOW) for t, volts in series]

    def pole_series(self, record: Record, used: EquipmentUsed, where: Pole) -> Series:
        """Give what a voltmeter shows from a pole to the enclosure while it settles [s, V]."""
        string, probe = self.string(record), self._probe(where)
        rows = settling_series(
            string,
            self._meter(used),
            probe,
            times_s=self._times(),
            start_v=settled_v(string, replace(probe, shunt_ohm=None), _SAME_V),
            chance=self.chance,
        )
        return self._as_shown(used, rows)

    @staticmethod
    def _times() -> tuple[float, ...]:
        return tuple(_STEP_S * step for step in range(int(LOOK_S / _STEP_S) + 1))

    def steady(self, used: EquipmentUsed, true_v: float) -> Series:
        """Give what a voltmeter shows of a stiff source [s, V]."""
        meter = meter_of(used)
        rows = [(t, float(self.volts(true_v, meter, 3))) for t in self._times()]
        return self._as_shown(used, rows)

    def between_poles_v(self, red: Pole, black: Pole) -> float | None:
        """Give the voltage between two poles of the string; None where links lie open between."""
        names = [module.name for module in self.pack.modules]
        red_v, black_v = self._height_v(red), self._height_v(black)
        low, high = sorted((self._node(red), self._node(black)))
        parted = any(low < names.index(name) + 1 < high for name in red.open_after)
        same_end = low == high and red.module != black.module
        cut = same_end and names[low - 1] in red.open_after
        return None if parted or cut else red_v - black_v

    def _node(self, where: Pole) -> int:
        """Give a pole as the number of modules below it."""
        at = [module.name for module in self.pack.modules].index(where.module)
        return at + (where.pole == "pos")

    def _height_v(self, where: Pole) -> float:
        return sum(sum(module.cells_v) for module in self.modules[: self._node(where)])

    def link_v(self, record: Record) -> float:
        """Give the true voltage on the circuit outside the pack [V]: live until isolated."""
        since = isolated_at(record)
        if since is None:
            return self.string_v()
        gone_s = max(0.0, (record.now - since).total_seconds())
        return self.string_v() * math.exp(-gone_s / _LINK_TAU_S)

    def section_ohm(self, record: Record, module: str) -> list[float]:
        """Give what a tester sees at a module: its own insulation and that of what it hangs on."""
        names, at = [each.name for each in self.pack.modules], 0
        borders = [names.index(name) + 1 for name in self.links_open(record)]
        at = names.index(module)
        first = max((each for each in borders if each <= at), default=0)
        end = min((each for each in borders if each > at), default=len(names))
        section = set(names[first:end])
        leaks = [leak.leak_ohm for leak in self.string(record).leaks if leak.module in section]
        return [*(MODULE_OHM for _ in section), *leaks]
