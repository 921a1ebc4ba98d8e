"""The circuit that makes demo and practice readings.

Here: a pack with known leaks and what a voltmeter shows on it; the other instruments are in
simulated_instruments.py and offered here too. Pure: chance comes in as an argument. Not here: what
readings mean (the calculations).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from packs.physics.circuit import PathToEnclosure, load_resistance, section_reading
from packs.physics.instrument import CalculationRefused
from packs.physics.simulated_instruments import (
    Enclosure,
    ShownInsulation,
    discharge_series,
    joint_drops_mv,
    pressure_samples,
    shown_insulation,
)
from packs.physics.simulated_meter import (
    Chance,
    MeterInHand,
    exponential_series,
    meter_in_hand,
    shown_v,
    shunt_in_hand,
)
from packs.words import told

__all__ = [
    "Chance",
    "Enclosure",
    "MeterInHand",
    "PackUnderTest",
    "Probe",
    "ShownInsulation",
    "SimulatedLeak",
    "SimulatedModule",
    "discharge_series",
    "joint_drops_mv",
    "meter_in_hand",
    "meter_reading_v",
    "pressure_samples",
    "settled_v",
    "settling_series",
    "shown_insulation",
    "shown_v",
    "shunt_in_hand",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedModule:
    """A module of the simulated string.

    Parameters
    ----------
    name : str
        Its name on the pack map.
    cells_v : tuple of float
        Voltage of each cell in series, from the negative pole, [V]
    """

    name: str
    cells_v: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedLeak:
    """A leak of the simulated string.

    Parameters
    ----------
    module : str
        The module it is in.
    position_cells : float
        Cells above the module's negative pole, with fraction, [-]
    leak_ohm : float
        Its resistance, [ohm]
    """

    module: str
    position_cells: float
    leak_ohm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PackUnderTest:
    """A pack whose faults are known.

    Parameters
    ----------
    modules : tuple of SimulatedModule
        In series order from pack negative.
    leaks : tuple of SimulatedLeak
        None, one or several.
    sound_ohm : float
        Insulation of the whole string without the leaks, spread evenly over the cells, [ohm]
    capacitance_uf : float
        Capacitance of the whole string to the enclosure, spread evenly, [uF]
    """

    modules: tuple[SimulatedModule, ...]
    leaks: tuple[SimulatedLeak, ...] = ()
    sound_ohm: float = 2.0e8
    capacitance_uf: float = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """Where and how a voltage to the enclosure is read.

    Parameters
    ----------
    module : str
        Module whose pole is read.
    pole : str
        ``"pos"`` or ``"neg"``.
    open_after : tuple of str
        Modules after whose positive pole the series link is open.
    shunt_ohm : float or None
        True resistance of the shunt (`shunt_in_hand`), None without, [ohm]
    """

    module: str
    pole: Literal["pos", "neg"]
    open_after: tuple[str, ...] = ()
    shunt_ohm: float | None = None


def settled_v(pack: PackUnderTest, probe: Probe, input_ohm: float) -> float:
    """Return the true settled voltage from a pole to the enclosure.

    Parameters
    ----------
    pack : PackUnderTest
        The pack.
    probe : Probe
        Pole, open links and shunt.
    input_ohm : float
        The meter's true input resistance, [ohm]

    Returns
    -------
    settled_v : float
        Pole relative to enclosure, [V]

    Raises
    ------
    CalculationRefused
        When a module is not part of the pack or the place of a leak is outside its module.

    Notes
    -----
    `circuit.section_reading` with the leaks of the section and its share of the sound insulation,
    one path a cell. Assumes that sound insulation spreads evenly over the cells. Source:
    Kirchhoff's laws.

    Examples
    --------
    >>> modules = tuple(SimulatedModule(name=n, cells_v=(3.7,) * 10) for n in ("M1", "M2"))
    >>> leak = SimulatedLeak(module="M2", position_cells=5.0, leak_ohm=1.0e5)
    >>> pack = PackUnderTest(modules=modules, leaks=(leak,), sound_ohm=1.0e9)
    >>> round(settled_v(pack, Probe(module="M2", pole="pos"), 1.0e7), 2)
    18.32
    """
    node_v, paths = _section(pack, probe)
    return section_reading(node_v, paths, load_resistance(input_ohm, probe.shunt_ohm))


def meter_reading_v(
    pack: PackUnderTest, in_hand: MeterInHand, probe: Probe, chance: Chance
) -> float:
    """Return what the voltmeter shows from a pole to the enclosure, settled.

    Parameters
    ----------
    pack : PackUnderTest
        The pack.
    in_hand : MeterInHand
        The voltmeter.
    probe : Probe
        Pole, open links and shunt.
    chance : Chance
        Where the reading error comes from.

    Returns
    -------
    shown_v : float
        Within the meter's allowance and rounded to its resolution, [V]

    Notes
    -----
    `settled_v` with the meter's true input resistance, then `shown_v`. Source: JCGM 100:2008,
    clause 4.3.7, for the error.

    Examples
    --------
    >>> from random import Random
    >>> pack = PackUnderTest(modules=(SimulatedModule(name="M1", cells_v=(3.7,) * 10),))
    >>> from packs.physics.instrument import Meter
    >>> in_hand = meter_in_hand(Meter(input_ohm=1.0e7), Random(1))
    >>> 0.8 < meter_reading_v(pack, in_hand, Probe(module="M1", pole="pos"), Random(2)) < 1.0
    True
    """
    return shown_v(settled_v(pack, probe, in_hand.input_ohm), in_hand.meter, chance)


def settling_series(
    pack: PackUnderTest,
    in_hand: MeterInHand,
    probe: Probe,
    *,
    times_s: Iterable[float],
    start_v: float,
    chance: Chance,
) -> list[tuple[float, float]]:
    """Return how a reading settles after the meter is put on.

    Parameters
    ----------
    pack : PackUnderTest
        The pack.
    in_hand : MeterInHand
        The voltmeter.
    probe : Probe
        Pole, open links and shunt.
    times_s : iterable of float
        When to look, [s]
    start_v : float
        Voltage of the pole at the moment of contact, [V]
    chance : Chance
        Where the reading errors come from.

    Returns
    -------
    series : list of tuple
        Time and shown voltage, [s], [V]

    Notes
    -----
    ``v(t) = v_end + (v_0 - v_end) exp(-t/tau)`` with ``tau = C/(G + G_m)`` of the section. Source:
    first-order response.

    Examples
    --------
    >>> from random import Random
    >>> from packs.physics.instrument import Meter
    >>> pack = PackUnderTest(
    ...     modules=(SimulatedModule(name="M1", cells_v=(3.7,) * 10),), capacitance_uf=1.0
    ... )
    >>> in_hand = MeterInHand(meter=Meter(input_ohm=1.0e7), input_ohm=1.0e7)
    >>> probe = Probe(module="M1", pole="pos")
    >>> series = settling_series(
    ...     pack, in_hand, probe, times_s=[0, 10, 100], start_v=20.0, chance=Random(1)
    ... )
    >>> [round(volts) for _, volts in series]
    [20, 8, 1]
    """
    node_v, paths = _section(pack, probe)
    load_ohm = load_resistance(in_hand.input_ohm, probe.shunt_ohm)
    end_v = section_reading(node_v, paths, load_ohm)
    cells = sum(len(module.cells_v) for module in pack.modules)
    share = sum(len(module.cells_v) for module in _modules(pack, probe)) / cells
    conductance = sum(1.0 / path.resistance_ohm for path in paths) + 1.0 / load_ohm
    tau_s = pack.capacitance_uf * 1.0e-6 * share / conductance
    return exponential_series(times_s, start_v, end_v, tau_s, in_hand.meter, chance)


def _modules(pack: PackUnderTest, probe: Probe) -> list[SimulatedModule]:
    """List the modules connected to a pole."""
    names = [module.name for module in pack.modules]
    unknown = [name for name in (probe.module, *probe.open_after) if name not in names]
    if unknown:
        raise CalculationRefused(
            "module", told("{module} is not part of this pack", module=unknown[0])
        )
    at = names.index(probe.module)
    borders = [names.index(name) + 1 for name in probe.open_after]
    first = max((border for border in borders if border <= at), default=0)
    end = min((border for border in borders if border > at), default=len(names))
    return list(pack.modules[first:end])


def _section(pack: PackUnderTest, probe: Probe) -> tuple[float, list[PathToEnclosure]]:
    """Potential of a pole and all ways to the enclosure, from the section's negative end."""
    cells = sum(len(module.cells_v) for module in pack.modules)
    cell_ohm = pack.sound_ohm * cells
    paths, node_v, base_v = [], 0.0, 0.0
    for module in _modules(pack, probe):
        edges_v = [base_v]
        for cell_v in module.cells_v:
            edges_v.append(edges_v[-1] + cell_v)
        middles_v = [0.5 * (low + high) for low, high in pairwise(edges_v)]
        paths += [PathToEnclosure(potential_v=v, resistance_ohm=cell_ohm) for v in middles_v]
        paths += [_path(leak, edges_v) for leak in pack.leaks if leak.module == module.name]
        if module.name == probe.module:
            node_v = edges_v[-1] if probe.pole == "pos" else edges_v[0]
        base_v = edges_v[-1]
    return node_v, paths


def _path(leak: SimulatedLeak, edges_v: Sequence[float]) -> PathToEnclosure:
    """Place a leak between the cell borders of its module."""
    cells = len(edges_v) - 1
    if not 0.0 <= leak.position_cells <= cells:
        raise CalculationRefused(
            "leaks",
            told(
                "{module} has {cells} cells; place the leak inside them",
                module=leak.module,
                cells=cells,
            ),
        )
    cell = min(int(leak.position_cells), cells - 1)
    part = leak.position_cells - cell
    return PathToEnclosure(
        potential_v=edges_v[cell] + part * (edges_v[cell + 1] - edges_v[cell]),
        resistance_ohm=leak.leak_ohm,
    )
