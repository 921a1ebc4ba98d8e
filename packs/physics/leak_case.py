"""A pressure decay test as it was taken: samples, gauge and limit.

Here: what is entered, its units, and figures whose unit was probably mistaken. Not here: the leak
and the verdict (leak.py).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from packs.physics.instrument import Message
from packs.physics.unit_suspicion import suspect, suspicions
from packs.words import told

STANDARD_PA = 101_325.0
PA_M3_PER_S_PER_ML_PER_MIN = STANDARD_PA * 1e-6 / 60.0
PA_M3_PER_S_PER_MBAR_L_PER_S = 0.1

VOLUMES_L = 1.0, 1e4
"""From a small housing to a lorry's whole battery."""
START_PRESSURES_PA = 200.0, 5e4
"""The weather alone moves tens of pascals; half a bar bends covers and opens vents."""
QUIET_FROM_PA = 100.0
"""A start that low is believed where the entered test pressure says the same."""
TEMPERATURES_C = -30.0, 55.0
"""Gas in a workshop, or in an enclosure left in the sun."""
SHORTEST_TEST_S = 20.0
"""A pressure decay of less than this shows nothing but its filling."""
LEAST_FALL_PA_PER_H = 5.0
"""A limit of less is lost in a fiftieth of a kelvin, whatever the volume."""
LARGEST_LIMIT_PA_M3_PER_S = 2.0
"""More than a litre a minute is an opening, not a leak."""
UNITS = {
    "pa_m3_per_s": 1.0,
    "mbar_l_per_s": PA_M3_PER_S_PER_MBAR_L_PER_S,
    "ml_per_min": PA_M3_PER_S_PER_ML_PER_MIN,
}
DROPS_PA = 1.0, 2e4


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureSample:
    """Gauge pressure and gas temperature at a time, with its own barometer if one was read."""

    t_s: float
    gauge_pa: float
    temp_c: float
    barometer_pa: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """A pressure gauge: one step of its display, and the standard deviation of a reading."""

    resolution_pa: float
    repeatability_pa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakLimit:
    """The largest acceptable leak, in exactly one unit."""

    pa_m3_per_s: float | None = None
    mbar_l_per_s: float | None = None
    ml_per_min: float | None = None
    drop_pa: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakCase:
    """A pressure decay test as it was taken."""

    volume_l: float
    samples: Sequence[PressureSample]
    gauge: Gauge
    limit: LeakLimit
    barometer_pa: float | None = None
    volume_u_percent: float = 5.0
    barometer_u_pa: float = 20.0
    temp_u_c: float = 0.2
    test_pressure_pa: tuple[float, float] | None = None


def suspicions_of_leak(case: LeakCase) -> tuple[Message, ...]:
    """Warn of figures that were probably entered in another unit.

    Parameters
    ----------
    case : LeakCase
        As entered, [l], [Pa], [degC] and [s]

    Returns
    -------
    warnings : tuple[Message, ...]
        With the code ``unit_suspect``, [-]

    Notes
    -----
    Usual are volumes of 1 l to 10 m3, a start of 200 Pa to 0.5 bar (from 100 Pa where the test
    pressure says so), gas of -30 to 55 degC, tests from 20 s, limits that let the pressure fall by
    5 Pa an hour at least and let through 2 Pa m3/s (1.2 l a minute) at most. Source: shop defaults,
    no source.

    Examples
    --------
    >>> case = LeakCase(
    ...     volume_l=0.06,
    ...     samples=[
    ...         PressureSample(t_s=0, gauge_pa=30.0, temp_c=20.0),
    ...         PressureSample(t_s=300, gauge_pa=28.6, temp_c=20.2),
    ...     ],
    ...     gauge=Gauge(resolution_pa=1.0, repeatability_pa=1.0),
    ...     limit=LeakLimit(ml_per_min=10.0),
    ... )
    >>> for warning in suspicions_of_leak(case):
    ...     print(warning.text)
    volume_l is 0.06, which is unusual: were cubic metres meant?
    samples.0.gauge_pa is 30, which is unusual: were millibars or kilopascals meant?
    """
    volume = "were cubic metres meant?" if case.volume_l < VOLUMES_L[0] else "were ml meant?"
    last = len(case.samples) - 1
    return suspicions(
        suspect("volume_l", case.volume_l, *VOLUMES_L, volume),
        _start(case),
        suspect(
            f"samples.{last}.t_s",
            case.samples[last].t_s - case.samples[0].t_s,
            SHORTEST_TEST_S,
            float("inf"),
            "were minutes meant? It counts from the first sample.",
        ),
        _temperature(case),
        *_limit(case),
    )


def _limit(case: LeakCase) -> Iterator[Message | None]:
    """Warn of a limit that no test of this volume can show, or that is an opening."""
    words = "is it in the unit of its name?"
    yield suspect("limit.drop_pa", case.limit.drop_pa, *DROPS_PA, words)
    least = case.volume_l / 1000.0 * LEAST_FALL_PA_PER_H / 3600.0
    for name, unit in UNITS.items():
        ends = least / unit, LARGEST_LIMIT_PA_M3_PER_S / unit
        yield suspect(f"limit.{name}", getattr(case.limit, name), *ends, words)


def _start(case: LeakCase) -> Message | None:
    """Warn of a start that is no test pressure, unless a test pressure says that it is one."""
    start_pa, window_pa = case.samples[0].gauge_pa, case.test_pressure_pa
    if window_pa is not None and QUIET_FROM_PA <= window_pa[0] <= start_pa <= window_pa[1]:
        return None
    too_low = start_pa < START_PRESSURES_PA[0]
    words = "were millibars or kilopascals meant?" if too_low else "was it in pascals already?"
    return suspect("samples.0.gauge_pa", start_pa, *START_PRESSURES_PA, words)


def _temperature(case: LeakCase) -> Message | None:
    """Warn of the first temperature that no workshop has."""
    low_c, high_c = TEMPERATURES_C
    for index, sample in enumerate(case.samples):
        if not low_c <= sample.temp_c <= high_c:
            text = told(
                "samples.{index}.temp_c is {temp_c:.6g}, which is unusual: were degrees "
                "Fahrenheit meant?",
                index=index,
                temp_c=sample.temp_c,
            )
            return Message("unit_suspect", text)
    return None
