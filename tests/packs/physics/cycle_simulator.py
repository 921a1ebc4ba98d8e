"""A pack of cells, charged and driven, and the log of it: the same for the same seed."""

import math
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter

from packs.physics.cycle_case import CycleCase, CycleLimits, CycleLog, CycleModule
from packs.physics.ocv import curve_named

Floats = npt.NDArray[np.float64]

CELLS_PER_MODULE = 6
ACTIVATION_K = 3608.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What is simulated; the defaults are a healthy pack with a good log."""

    seed: int = 1
    cells: int = 24
    curve: str = "nmc532_graphite"
    nominal_ah: float = 50.0
    capacity_scatter: float = 0.01
    resistance_scatter: float = 0.05
    soc_scatter_percent: float = 0.2
    from_percent: float = 10.0
    to_percent: float = 93.0
    temperature_c: float = 25.0
    slow_s: float = 60.0
    step_s: float = 20.0
    irregular: bool = False
    noise_v: float = 0.0008
    resolution_v: float = 0.001
    gain: float = 0.0
    current_offset_a: float = 0.0
    curve_shift_v: float = 0.0
    rest_s: float = 1800.0
    drive_s: float = 7200.0
    drive_rate: float = 1.0
    charges: bool = True
    holds: bool = False
    gap_s: float = 0.0
    gap_at: float = 0.5
    odd_cell: int | None = None
    odd_resistance: float = 1.0
    odd_capacity: float = 1.0
    odd_offset_v: float = 0.0
    odd_sensor: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulated:
    """A log and what is behind it; resistances are those at the moment of the step."""

    log: CycleLog
    plan: Plan
    capacity_ah: Floats
    resistance_ohm: Floats
    charged_ah: float
    modules: tuple[CycleModule, ...] = field(default=())

    @property
    def case(self) -> CycleCase:
        """Return the case as the calculation takes it."""
        return CycleCase(
            log=self.log, modules=self.modules, curve=self.plan.curve, limits=CycleLimits()
        )

    def asked(self, **changes: object) -> CycleCase:
        """Return the case with other fields."""
        return replace(self.case, **changes)  # type: ignore[arg-type]


def simulated(**options: object) -> Simulated:
    """Return a log of a plan."""
    plan = Plan(**options)  # type: ignore[arg-type]
    chance = np.random.default_rng(plan.seed)
    capacity_ah = plan.nominal_ah * (
        1.0 + plan.capacity_scatter * chance.standard_normal(plan.cells)
    )
    kelvin = plan.temperature_c + 273.15
    cold = math.exp(ACTIVATION_K * (1.0 / kelvin - 1.0 / 298.15))
    ohm = 0.045 / plan.nominal_ah * cold
    resistance_ohm = ohm * (1.0 + plan.resistance_scatter * chance.standard_normal(plan.cells))
    if plan.odd_cell is not None:
        capacity_ah[plan.odd_cell] = plan.nominal_ah * plan.odd_capacity
        resistance_ohm[plan.odd_cell] = ohm * plan.odd_resistance
    current_a = _current(plan, chance)
    rows = _rows(plan, chance, current_a.size)
    cell_v = _voltages(plan, chance, capacity_ah, resistance_ohm, current_a, rows)
    shown_a = current_a[rows] * (1.0 + plan.gain) + plan.current_offset_a
    shown_a = np.round(shown_a + 0.02 * chance.standard_normal(rows.size), 2)
    warm_c = plan.temperature_c + np.array([0.0, 0.3, 0.6, 0.9])
    temperature_c = warm_c + 0.05 * chance.standard_normal((rows.size, 4))
    log = CycleLog(
        time_s=rows.astype(np.float64),
        current_a=shown_a,
        cell_v=cell_v,
        temperature_c=np.round(temperature_c, 1),
    )
    return Simulated(
        log=log,
        plan=plan,
        capacity_ah=capacity_ah,
        resistance_ohm=resistance_ohm,
        charged_ah=float(current_a[current_a > 0.0].sum()) / 3600.0,
        modules=modules_of(plan.cells),
    )


def modules_of(cells: int) -> tuple[CycleModule, ...]:
    """Return modules of six cells; the last takes what is left."""
    counts = [CELLS_PER_MODULE] * (cells // CELLS_PER_MODULE)
    if cells % CELLS_PER_MODULE:
        counts.append(cells % CELLS_PER_MODULE)
    return tuple(CycleModule(name=f"M{i + 1}", cells=count) for i, count in enumerate(counts))


def _current(plan: Plan, chance: np.random.Generator) -> Floats:
    """Return the current second by second: rest, charge with a taper, rest, drive, rest."""
    pause = np.zeros(round(plan.rest_s))
    parts = [pause]
    if plan.charges:
        rate_a = plan.nominal_ah / 3.0
        parts += [_held(plan, rate_a) if plan.holds else _charge(plan, rate_a), pause]
    if plan.drive_s > 0.0:
        length_s = max(1, round(plan.step_s)) if plan.step_s >= 10.0 else 20
        levels = np.array([0.0, -0.15, -0.3, -0.5, -0.8, 0.3]) * plan.drive_rate * plan.nominal_ah
        share = [0.30, 0.22, 0.15, 0.18, 0.08, 0.07]
        count = round(plan.drive_s / (2.5 * length_s))
        picked = chance.choice(levels, size=count, p=share)
        lengths = length_s * chance.integers(1, 5, size=count)
        parts += [np.repeat(picked, lengths), pause]
    return np.concatenate([_whole_rows(plan, part) for part in parts])


def _charge(plan: Plan, rate_a: float) -> Floats:
    """Return a charge with half an hour of falling current; the first full cell ends it."""
    weakest = min(1.0, plan.odd_capacity)
    to_percent = min(plan.to_percent, plan.from_percent + weakest * (97.0 - plan.from_percent))
    charge_as = (to_percent - plan.from_percent) * 36.0 * plan.nominal_ah
    full_s = round(0.92 * charge_as / rate_a)
    tail = np.linspace(1.0, 0.1, 1800)
    tail *= (charge_as / rate_a - full_s) / tail.sum()
    return rate_a * np.concatenate([np.ones(full_s), np.minimum(tail, 1.0)])


def _held(plan: Plan, rate_a: float) -> Floats:
    """Return a charge that ends as the charger holds the voltage of the rested, full pack."""
    curve = curve_named(plan.curve)
    ohm, slowed_a, soc = 0.045 / plan.nominal_ah, 0.0, plan.from_percent
    end_v = float(np.interp(plan.to_percent, curve.soc_percent, curve.ocv_v))
    found = [rate_a]
    while found[-1] > 0.05 * rate_a and len(found) < 20_000:
        soc += found[-1] / 36.0 / plan.nominal_ah
        slowed_a += (found[-1] - slowed_a) / plan.slow_s
        rested_v = float(np.interp(soc, curve.soc_percent, curve.ocv_v))
        found.append(min(rate_a, (end_v - rested_v) / ohm - 0.7 * slowed_a))
    return np.array(found)


def _whole_rows(plan: Plan, part: Floats) -> Floats:
    """Lengthen a part to whole rows: the current changes with a row, as both are read at once."""
    step_s = max(1, round(plan.step_s))
    return np.pad(part, (0, -part.size % step_s), mode="edge")


def _rows(plan: Plan, chance: np.random.Generator, seconds: int) -> npt.NDArray[np.intp]:
    """Return the seconds at which a row was written."""
    step_s = max(1, round(plan.step_s))
    rows = np.arange(0, seconds, step_s)
    if plan.irregular and step_s > 2:
        rows[1:] += chance.integers(-(step_s // 3), step_s // 3 + 1, size=rows.size - 1)
        rows = np.unique(np.clip(rows, 0, seconds - 1))
    if plan.gap_s > 0.0:
        start_s = plan.gap_at * seconds
        rows = rows[(rows <= start_s) | (rows >= start_s + plan.gap_s)]
    return rows.astype(np.intp)


def _voltages(
    plan: Plan,
    chance: np.random.Generator,
    capacity_ah: Floats,
    resistance_ohm: Floats,
    current_a: Floats,
    rows: npt.NDArray[np.intp],
) -> Floats:
    """Return what the log shows of the cells."""
    moved_ah = np.concatenate(([0.0], np.cumsum(current_a[:-1]))) / 3600.0
    curve = curve_named(plan.curve)
    start = plan.from_percent + plan.soc_scatter_percent * chance.standard_normal(plan.cells)
    soc = start + moved_ah[rows][:, None] / capacity_ah * 100.0
    fade = math.exp(-1.0 / plan.slow_s)
    slowed_a = lfilter([0.0, 1.0 - fade], [1.0, -fade], current_a)[rows]
    cell_v = np.interp(soc, curve.soc_percent, curve.ocv_v) + plan.curve_shift_v
    cell_v += resistance_ohm * current_a[rows][:, None]
    cell_v += 0.7 * float(np.median(resistance_ohm)) * slowed_a[:, None]
    cell_v += plan.noise_v * chance.standard_normal(cell_v.shape)
    if plan.odd_cell is not None:
        cell_v[:, plan.odd_cell] += plan.odd_offset_v
        _spoil(plan, cell_v, plan.odd_cell)
    if plan.resolution_v > 0.0:
        cell_v = np.round(cell_v / plan.resolution_v) * plan.resolution_v
    return cell_v


def _spoil(plan: Plan, cell_v: Floats, cell: int) -> None:
    """Break the channel of a cell."""
    half = cell_v.shape[0] // 2
    if plan.odd_sensor == "stuck":
        cell_v[half:, cell] = cell_v[half, cell]
    elif plan.odd_sensor == "missing":
        cell_v[half:, cell] = np.nan
    elif plan.odd_sensor == "jumping":
        cell_v[half:, cell] += 0.08
    elif plan.odd_sensor == "spiking":
        cell_v[::40, cell] += 0.2
