"""The simulated vehicle of a job: its hidden fault, and what instruments show on it.

Each figure comes from the circuit of `packs.physics.simulate` with an error inside the allowance
of the instrument that was picked, from one seed: the same recipe gives the same readings. What
was replaced in the job no longer leaks.
"""

import random
from collections.abc import Mapping
from dataclasses import dataclass, field

from jobs.core.insulation import meter_of
from jobs.core.item import EquipmentUsed
from jobs.core.record import Record
from jobs.practice.scenario import Recipe
from jobs.steps.fault_localisation.items import OTHER_DONE, PART_DONE
from jobs.steps.module_swap.items import SEATED
from packs.definition import PackDefinition
from packs.physics.instrument import Meter
from packs.physics.simulate import (
    Enclosure,
    MeterInHand,
    PackUnderTest,
    Probe,
    SimulatedLeak,
    SimulatedModule,
    joint_drops_mv,
    meter_in_hand,
    meter_reading_v,
    pressure_samples,
    settling_series,
    shown_insulation,
    shown_v,
    shunt_in_hand,
)

__all__ = ["Bench", "Pole"]

CELL_SPREAD_V = 0.002
"""Standard deviation of the cells about their mean [V]."""
MODULE_OHM = 6.0e9
"""Insulation of a sound module by itself [ohm]."""
PART_OHM = 1.5e9
"""Insulation of a sound part of the vehicle [ohm]."""
CEILING_OHM = 5.5e8
"""Where the tester shows "more than" [ohm]."""
ENCLOSURE_LEAK = 0.004
"""What the closed enclosure loses [Pa m3/s]: about 2.4 ml/min."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pole:
    """A pole to be read: links open beside it, and the shunt that is fitted."""

    module: str
    pole: str
    open_after: tuple[str, ...]
    shunt: EquipmentUsed | None = None


def _chance(seed: int) -> random.Random:
    """Give the one source of all errors; it has to repeat, not to be secret."""
    return random.Random(seed)  # noqa: S311


def _ohm_text(ohm: float | None, above_ohm: float | None) -> str:
    """Type what the tester shows."""
    return f">{above_ohm:.0f}" if ohm is None else f"{ohm:.0f}"


@dataclass
class Bench:
    """The vehicle, its pack, and the instruments in hand."""

    recipe: Recipe
    pack: PackDefinition
    chance: random.Random = field(init=False)
    modules: tuple[SimulatedModule, ...] = field(init=False)
    meters: dict[str, MeterInHand] = field(default_factory=dict)
    shunts: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.chance = _chance(self.recipe.seed)
        self.modules = tuple(
            SimulatedModule(
                name=module.name,
                cells_v=tuple(
                    self.recipe.cell_v + self.chance.gauss(0.0, CELL_SPREAD_V)
                    for _ in range(module.cells)
                ),
            )
            for module in self.pack.modules
        )

    def string(self, record: Record) -> PackUnderTest:
        """Give the string as it is at this point of the job."""
        replaced = {given.part("module") for given in record.all(SEATED)}
        other = record.has(OTHER_DONE)
        leaks = tuple(
            SimulatedLeak(**leak.model_dump())
            for leak in self.recipe.leaks
            if leak.module not in replaced and not other
        )
        return PackUnderTest(modules=self.modules, leaks=leaks)

    def module_v(self, name: str) -> float:
        """Give the true voltage of a module [V]."""
        return sum(next(m.cells_v for m in self.modules if m.name == name))

    def string_v(self) -> float:
        """Give the true voltage of the whole string [V]."""
        return sum(sum(module.cells_v) for module in self.modules)

    def _meter(self, used: EquipmentUsed) -> MeterInHand:
        if used.id not in self.meters:
            self.meters[used.id] = meter_in_hand(meter_of(used), self.chance)
        return self.meters[used.id]

    def _probe(self, where: Pole) -> Probe:
        shunt_ohm = None
        if where.shunt is not None:
            used = where.shunt
            if used.id not in self.shunts:
                ohm, tolerance = used.number("ohm"), used.number("tolerance_percent")
                self.shunts[used.id] = shunt_in_hand(ohm, tolerance, self.chance)
            shunt_ohm = self.shunts[used.id]
        return Probe(
            module=where.module,
            pole="neg" if where.pole == "neg" else "pos",
            open_after=where.open_after,
            shunt_ohm=shunt_ohm,
        )

    def pole_v(self, record: Record, meter: EquipmentUsed, where: Pole) -> str:
        """Type what the voltmeter shows from a pole to the enclosure [V]."""
        string, in_hand = self.string(record), self._meter(meter)
        return f"{meter_reading_v(string, in_hand, self._probe(where), self.chance):.2f}"

    def settling(self, record: Record, meter: EquipmentUsed, where: Pole) -> list[list[str]]:
        """Type how that reading settles, second by second [s, V]."""
        rows = settling_series(
            self.string(record),
            self._meter(meter),
            self._probe(where),
            times_s=(0.1 * step for step in range(21)),
            start_v=0.0,
            chance=self.chance,
        )
        return [[f"{t_s:.2f}", f"{volts:.2f}"] for t_s, volts in rows]

    def volts(self, true_v: float, meter: Meter, digits: int = 2) -> str:
        """Type what a voltmeter shows of a true voltage [V]."""
        return f"{shown_v(true_v, meter, self.chance):.{digits}f}"

    def tester(self, parts_ohm: list[float], used: EquipmentUsed) -> str:
        """Type what the insulation tester shows of parts in parallel [ohm]."""
        shown = shown_insulation(
            parts_ohm,
            accuracy_percent=used.number("accuracy_percent"),
            ceiling_ohm=CEILING_OHM,
            chance=self.chance,
        )
        return _ohm_text(shown.ohm, shown.above_ohm)

    def vehicle_ohm(self, record: Record, unplugged: str, used: EquipmentUsed) -> str:
        """Type what the tester shows on the vehicle's cables with one part unplugged [ohm]."""
        replaced = {given.part("part") for given in record.all(PART_DONE)}
        leaks: Mapping[str, float] = self.recipe.vehicle_leaks
        connected = [part for part in self.pack.vehicle_parts if part != unplugged]
        ohms = [
            leaks[part] if part in leaks and part not in replaced else PART_OHM
            for part in connected
        ]
        return self.tester(ohms, used)

    def module_ohm(self, record: Record, name: str, used: EquipmentUsed) -> str:
        """Type what the tester shows on a module by itself [ohm]; a leak beside it is not in it."""
        own = [] if self.recipe.other else self.string(record).leaks
        leaks = [leak.leak_ohm for leak in own if leak.module == name]
        return self.tester([MODULE_OHM, *leaks], used)

    def near(self, value: float, percent: float, digits: int = 2) -> str:
        """Type a figure that is met within some percent."""
        return f"{value * (1.0 + self.chance.uniform(-percent, percent) / 100.0):.{digits}f}"

    def drops_mv(self, positions: list[str], current_a: float, used: EquipmentUsed) -> list[str]:
        """Type the drops over busbar joints [mV]."""
        true_ohm = [38.0 * (1.0 + self.chance.uniform(-0.05, 0.05)) for _ in positions]
        meter = Meter(
            input_ohm=1.0e7,
            accuracy_percent=used.number("accuracy_percent"),
            accuracy_counts=used.number("accuracy_counts"),
            resolution_v=used.number("resolution_mv") / 1000.0,
        )
        drops = joint_drops_mv(true_ohm, current_a=current_a, meter=meter, chance=self.chance)
        return [f"{drop:.3f}" for drop in drops]

    def pressure(self, used: EquipmentUsed, *, duration_s: float) -> list[list[str]]:
        """Type the samples of a seal test [s, Pa, degC, Pa]."""
        enclosure = Enclosure(
            volume_l=self.pack.seal_test.volume_l or 50.0,
            leak_pa_m3_per_s=ENCLOSURE_LEAK,
            start_c=20.4,
            drift_c_per_h=0.6,
        )
        rows = pressure_samples(
            enclosure,
            times_s=range(0, int(duration_s) + 31, 30),
            resolution_pa=used.number("resolution_pa"),
            repeatability_pa=used.number("repeatability_pa"),
            chance=self.chance,
        )
        return [
            [f"{t_s:.0f}", f"{gauge_pa:.0f}", f"{temp_c:.1f}", "101325"]
            for t_s, gauge_pa, temp_c in rows
        ]
