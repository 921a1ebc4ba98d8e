"""Simulated isolation measurements of known resistance, by voltmeter and by tester.

Here: cases drawn from the error model of the interface. Not here: how often intervals hold the
truth (test_coverage.py).
"""

from dataclasses import dataclass
from random import Random

from packs.physics.instrument import Meter
from packs.physics.isolation import (
    AboveOhm,
    IsolationResult,
    TesterCase,
    VoltmeterCase,
    isolation_by_tester,
    isolation_by_voltmeter,
)
from packs.physics.simulated_meter import meter_in_hand, rounded, shown_v, shunt_in_hand
from tests.bench.coverage_table import Figure, Kind, Trial, judged

METERS = (
    Meter(input_ohm=1.0e7, accuracy_percent=0.1, accuracy_counts=2, resolution_v=0.01),
    Meter(input_ohm=1.0e7, accuracy_percent=0.5, accuracy_counts=2, resolution_v=0.01),
    Meter(input_ohm=1.1e7, accuracy_percent=0.7, accuracy_counts=3, resolution_v=0.1),
)


@dataclass(frozen=True, slots=True)
class Leaks:
    """Which leaks a kind of case has, and what is read beside the three voltages."""

    decades: tuple[float, float]
    places: tuple[float, float] = (0.0, 1.0)
    with_bus: bool = False
    gain_shared: bool = False
    near_limit: bool = False
    shunts_ohm: tuple[float, ...] = ()


def by_voltmeter(leaks: Leaks, chance: Random) -> Trial:
    """Read one string with three voltages and a shunt."""
    meter = chance.choice(METERS)
    bus_v, limit = chance.uniform(150.0, 420.0), chance.choice((100.0, 500.0))
    working_v = bus_v * chance.uniform(1.0, 1.15)
    x = chance.uniform(*leaks.places)
    x = chance.choice((x, 1.0 - x))
    total_ohm = 10.0 ** chance.uniform(*leaks.decades)
    if leaks.near_limit:
        total_ohm = limit * working_v * max(x, 1.0 - x) * 10.0 ** chance.uniform(-0.05, 0.05)
    shunt_ohm = limit * working_v * chance.uniform(0.8, 1.2)
    if leaks.shunts_ohm:
        shunt_ohm = chance.choice(leaks.shunts_ohm)
    case = _read(leaks, chance, (meter, bus_v, x), (total_ohm, shunt_ohm, working_v, limit))
    result = isolation_by_voltmeter(case)
    standard_ohm = total_ohm / max(x, 1.0 - x)
    verdict = ""
    if leaks.near_limit:
        verdict = judged(result.verdict, passes=standard_ohm >= limit * working_v)
    return Trial(_figures(result, total_ohm, standard_ohm, 100.0 * x), verdict)


def _read(
    leaks: Leaks,
    chance: Random,
    string: tuple[Meter, float, float],
    ohms: tuple[float, float, float, float],
) -> VoltmeterCase:
    """Return the readings with the instruments' errors: shared ones are drawn once."""
    meter, bus_v, x = string
    total_ohm, shunt_ohm, working_v, limit = ohms
    gain = 1.0
    own = meter
    if leaks.gain_shared:
        gain += chance.uniform(-1.0, 1.0) * meter.accuracy_percent / 100.0
        own = Meter(
            input_ohm=meter.input_ohm,
            accuracy_percent=0.0,
            accuracy_counts=meter.accuracy_counts,
            resolution_v=meter.resolution_v,
        )

    def shown(volts: float) -> float:
        return max(0.0, shown_v(volts * gain, own, chance))

    loading = 1.0 / meter_in_hand(meter, chance).input_ohm
    shunt = 1.0 / shunt_in_hand(shunt_ohm, 1.0, chance)
    alone_v = bus_v / (1.0 + loading * total_ohm)
    shunted_v = bus_v / (1.0 + (loading + shunt) * total_ohm)
    pos_v, neg_v = shown(alone_v * (1.0 - x)), shown(alone_v * x)
    across_neg = neg_v > pos_v
    return VoltmeterCase(
        pos_to_chassis_v=pos_v,
        neg_to_chassis_v=neg_v,
        shunt_ohm=shunt_ohm,
        shunt_across="neg" if across_neg else "pos",
        shunted_v=shown(shunted_v * (x if across_neg else 1.0 - x)),
        meter=meter,
        working_voltage_v=working_v,
        limit_ohm_per_v=limit,
        bus_v=shown(bus_v) if leaks.with_bus else None,
        gain_shared=leaks.gain_shared,
    )


def _figures(
    result: IsolationResult, total_ohm: float, standard_ohm: float, percent: float
) -> tuple[Figure, ...]:
    found = [
        Figure("total_ohm", total_ohm, result.total_ohm_low, result.total_ohm_high),
        Figure("standard_ohm", standard_ohm, result.standard_ohm_low, result.standard_ohm_high),
    ]
    if result.position_percent_low is not None:
        ends = result.position_percent_low, result.position_percent_high
        found.append(Figure("position_percent", percent, *ends))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Tested:
    """Which parts a tester is put on."""

    decades: tuple[float, float] = (4.0, 8.5)
    ceiling_ohm: float = 5.5e8
    alike: bool = True
    near_limit: bool = False
    own_voltage_v: float = 0.0


def by_tester(tested: Tested, chance: Random) -> Trial:
    """Read one part at both poles with an insulation tester."""
    percent, working_v = chance.choice((3.0, 5.0, 10.0)), chance.uniform(150.0, 420.0)
    limit = chance.choice((100.0, 500.0))
    pos_ohm = 10.0 ** chance.uniform(*tested.decades)
    neg_ohm = pos_ohm if tested.alike else 10.0 ** chance.uniform(*tested.decades)
    if tested.near_limit:
        pos_ohm = neg_ohm = limit * working_v * 10.0 ** chance.uniform(-0.1, 0.1)
    reach = tested.own_voltage_v * chance.uniform(0.0, 1.0)
    adds = (500.0 + reach, 500.0 - tested.own_voltage_v + reach)
    result = isolation_by_tester(
        TesterCase(
            test_voltage_v=500.0,
            pos_ohm=_shown(pos_ohm * 500.0 / adds[0], percent, tested.ceiling_ohm, chance),
            neg_ohm=_shown(neg_ohm * 500.0 / adds[1], percent, tested.ceiling_ohm, chance),
            accuracy_percent=percent,
            working_voltage_v=working_v,
            limit_ohm_per_v=limit,
            own_voltage_v=tested.own_voltage_v,
        )
    )
    truth = min(pos_ohm, neg_ohm)
    verdict = judged(result.verdict, passes=truth >= limit * working_v) if tested.near_limit else ""
    figure = Figure("standard_ohm", truth, result.standard_ohm_low, result.standard_ohm_high)
    return Trial((figure,), verdict)


def _shown(ohm: float, percent: float, ceiling_ohm: float, chance: Random) -> float | AboveOhm:
    """Return a figure of four digits, or "more than" the end of the range."""
    shown_ohm = ohm * (1.0 + chance.uniform(-percent, percent) / 100.0)
    if shown_ohm >= ceiling_ohm:
        return AboveOhm(above_ohm=ceiling_ohm * (1.0 - percent / 100.0))
    return rounded(shown_ohm, 10.0 ** (len(str(int(shown_ohm))) - 4))


def _voltmeter(name: str, leaks: Leaks) -> Kind:
    return Kind("isolation", name, lambda chance: by_voltmeter(leaks, chance))


def _tester(name: str, tested: Tested) -> Kind:
    return Kind("tester", name, lambda chance: by_tester(tested, chance))


KINDS = (
    _voltmeter("hard leak, 1 to 20 kohm", Leaks((3.0, 4.3))),
    _voltmeter("middling leak, 20 kohm to 1 Mohm", Leaks((4.3, 6.0))),
    _voltmeter("soft leak, 1 to 30 Mohm", Leaks((6.0, 7.5))),
    _voltmeter("sound, 30 Mohm to 1 Gohm", Leaks((7.5, 9.0))),
    _voltmeter("near a pole, 10 kohm to 1 Mohm", Leaks((4.0, 6.0), places=(0.0, 0.03))),
    _voltmeter("with bus voltage, soft", Leaks((6.0, 8.0), with_bus=True)),
    _voltmeter("gain shared, 20 kohm to 1 Mohm", Leaks((4.3, 6.0), gain_shared=True)),
    _voltmeter("a shunt of 500 kohm or 1 Mohm", Leaks((3.0, 6.5), shunts_ohm=(5e5, 1e6))),
    _voltmeter("within 12 % of the limit", Leaks((4.0, 5.0), near_limit=True)),
    _tester("numbers, both poles alike", Tested()),
    _tester("numbers, each pole its own", Tested(alike=False)),
    _tester("up to over range", Tested(decades=(8.0, 9.5))),
    _tester("on a module of 48 V", Tested(decades=(4.5, 7.0), own_voltage_v=48.0)),
    _tester("within a quarter of the limit", Tested(near_limit=True)),
)
