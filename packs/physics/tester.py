"""Readings of an insulation tester: the interval they give, advice and warnings.

Here: over-range bounds, parts with a voltage of their own, absorption. Not here: the public
calculation and the result's shape (isolation.py).
"""

from dataclasses import dataclass
from typing import ClassVar

from packs.physics.instrument import Message, Verdict, half_width_95
from packs.physics.interval import Interval
from packs.physics.unit_suspicion import HIGHEST_CLASS_B_V, suspect, suspicions
from packs.physics.voltmeter import suspicious_limit
from packs.words import told

SETTLED_S = 60.0
"""An insulation reading is taken after a minute, when capacitive current is gone."""
TEST_VOLTAGES_V = 10.0, 5000.0
"""Insulation testers inject 10 V to 5 kV."""
LEAST_READING_OHM, LEAST_RANGE_OHM = 1e3, 1e5
"""They resolve a kilohm at best, and no range ends below 100 kohm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AboveOhm:
    """An over-range reading: the instrument showed "more than"."""

    above_ohm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TesterCase:
    """Each pole against the enclosure with an insulation tester."""

    __test__: ClassVar[bool] = False
    """Not a test case, whatever its name begins with."""

    test_voltage_v: float
    pos_ohm: float | AboveOhm
    neg_ohm: float | AboveOhm
    working_voltage_v: float
    limit_ohm_per_v: float = 100.0
    duration_s: float = SETTLED_S
    accuracy_percent: float = 5.0
    at_30s_ohm: float | AboveOhm | None = None
    at_60s_ohm: float | AboveOhm | None = None
    minimum_fraction: float = 1.0
    own_voltage_v: float = 0.0


def bound_of(reading: float | AboveOhm) -> float:
    """Return a reading, or the bound of one that is over range.

    Parameters
    ----------
    reading : float | AboveOhm
        What the instrument showed, [ohm]

    Returns
    -------
    bound_ohm : float
        The number shown, [ohm]

    Notes
    -----
    For an over-range reading this is a lower bound and must be kept as one. Source: our own.

    Examples
    --------
    >>> bound_of(AboveOhm(above_ohm=5.5e8))
    550000000.0
    """
    return reading.above_ohm if isinstance(reading, AboveOhm) else reading


def smaller_reading(case: TesterCase) -> Interval:
    """Return the smaller of two readings, or their mean conductance on a live part.

    Parameters
    ----------
    case : TesterCase
        Both readings, with the tester's accuracy, [ohm]

    Returns
    -------
    total_ohm : Interval
        With its 95 % interval; without an upper end when a bound decides, [ohm]

    Notes
    -----
    ``min(R_pos, R_neg)``, or with a voltage of the part's own ``2/(1/R_pos + 1/R_neg)``, off by
    at most ``U/(2 U_test)`` for a leak at either end. Rectangular within the accuracy: with the
    95 % half-width ``s`` as a share the ends are ``R/(1 + s)`` and ``R/(1 - s)``, every resistance
    that would be shown as ``R``. Source: JCGM 100:2008; the circuit of a source in series with the
    tester.

    Examples
    --------
    >>> case = TesterCase(
    ...     test_voltage_v=500.0,
    ...     pos_ohm=2.0e6,
    ...     neg_ohm=AboveOhm(above_ohm=5.5e8),
    ...     working_voltage_v=400.0,
    ... )
    >>> round(smaller_reading(case).low)
    1909308
    """
    if case.own_voltage_v > 0.0:
        return _on_a_live_part(case)
    ends = [
        Interval(bound_of(reading), bound_of(reading), None)
        if isinstance(reading, AboveOhm)
        else _around(reading, half_width_95([case.accuracy_percent / 100.0]))
        for reading in (case.pos_ohm, case.neg_ohm)
    ]
    smaller = min(ends, key=lambda end: end.value)
    return Interval(smaller.value, min(end.low for end in ends), smaller.high)


def _on_a_live_part(case: TesterCase) -> Interval:
    """Return the mean conductance of both readings as a resistance."""
    bounds = [bound_of(case.pos_ohm), bound_of(case.neg_ohm)]
    mean_ohm = 2.0 / sum(1.0 / ohm for ohm in bounds)
    if isinstance(case.pos_ohm, AboveOhm) or isinstance(case.neg_ohm, AboveOhm):
        return Interval(mean_ohm, mean_ohm, None)
    off = case.own_voltage_v / (2.0 * case.test_voltage_v)
    return _around(mean_ohm, half_width_95([case.accuracy_percent / 200.0] * 2 + [off]))


def reading_of_tester(ohm: float, accuracy_percent: float) -> Interval:
    """Return one reading of a tester with the 95 % interval of its accuracy.

    Parameters
    ----------
    ohm : float
        What it showed, [ohm]
    accuracy_percent : float
        Its accuracy, rectangular, [%]

    Returns
    -------
    reading_ohm : Interval
        Every resistance that would be shown as this, [ohm]

    Notes
    -----
    As each pole in `smaller_reading`. Source: JCGM 100:2008.

    Examples
    --------
    >>> round(reading_of_tester(2.0e6, 5.0).low)
    1909308
    """
    return _around(ohm, half_width_95([accuracy_percent / 100.0]))


def _around(ohm: float, share: float) -> Interval:
    """Return every resistance that a tester off by a share would show as this."""
    low_ohm = ohm / (1.0 + share)
    if share >= 1.0:
        return Interval(low_ohm, low_ohm, None)
    return Interval(ohm, low_ohm, ohm / (1.0 - share))


def absorption_ratio(case: TesterCase) -> float | None:
    """Return R60/R30 when both are numbers.

    Parameters
    ----------
    case : TesterCase
        With the readings after 30 s and 60 s, [ohm]

    Returns
    -------
    ratio : float | None
        None when a reading is missing or over range, [-]

    Notes
    -----
    ``R60/R30``: rising means absorption, falling or jumping means wet or tracking. It was made
    for machine windings and gates nothing here. Source: IEEE 43, dielectric absorption.

    Examples
    --------
    >>> case = TesterCase(
    ...     test_voltage_v=500.0,
    ...     pos_ohm=2.0e6,
    ...     neg_ohm=AboveOhm(above_ohm=5.5e8),
    ...     working_voltage_v=400.0,
    ... )
    >>> absorption_ratio(case) is None
    True
    """
    early, late = case.at_30s_ohm, case.at_60s_ohm
    if early is None or late is None:
        return None
    if isinstance(early, AboveOhm) or isinstance(late, AboveOhm) or early <= 0.0:
        return None
    return late / early


def advice_for_tester(
    case: TesterCase, standard: Interval, verdict: Verdict, *, too_low: bool
) -> tuple[Message, ...]:
    """Say what would decide.

    Parameters
    ----------
    case : TesterCase
        What was done, [-]
    standard : Interval
        What came of it, [ohm]
    verdict : Verdict
        How it was judged, [-]
    too_low : bool
        Whether the test voltage was below the one required, [-]

    Returns
    -------
    advice : tuple[Message, ...]
        Empty when the verdict stands, [-]

    Notes
    -----
    Source: shop default, no source.

    Examples
    --------
    >>> case = TesterCase(
    ...     test_voltage_v=500.0,
    ...     pos_ohm=2.0e6,
    ...     neg_ohm=AboveOhm(above_ohm=5.5e8),
    ...     working_voltage_v=400.0,
    ... )
    >>> advice_for_tester(case, smaller_reading(case), Verdict.PASS, too_low=False)
    ()
    """
    if verdict is not Verdict.UNDECIDED:
        return ()
    if too_low:
        least_v = case.minimum_fraction * case.working_voltage_v
        text = told(
            "Test with at least {least_v:.0f} V, unless the vehicle maker or a "
            "component allows less.",
            least_v=least_v,
        )
        return (Message("higher_test_voltage", text),)
    if standard.high is None:
        text = "The bound is below the limit: use a tester or a range that reads further up."
        return (Message("higher_range", text),)
    text = "The limit lies within the tester's accuracy: dry, wait, and use the voltmeter method."
    return (Message("other_method", text),)


def warnings_for_tester(
    case: TesterCase, standard: Interval, *, too_low: bool
) -> tuple[Message, ...]:
    """Say what a reader of the result must know.

    Parameters
    ----------
    case : TesterCase
        What was done, [-]
    standard : Interval
        What came of it, [ohm]
    too_low : bool
        Whether the test voltage was below the one required, [-]

    Returns
    -------
    warnings : tuple[Message, ...]
        In the order they were found, [-]

    Notes
    -----
    Read after 60 s, when the capacitive current is gone. Source: IEEE 43, time of reading; the rest
    is shop default, no source.

    Examples
    --------
    >>> case = TesterCase(
    ...     test_voltage_v=500.0,
    ...     pos_ohm=2.0e6,
    ...     neg_ohm=AboveOhm(above_ohm=5.5e8),
    ...     working_voltage_v=400.0,
    ... )
    >>> warnings_for_tester(case, smaller_reading(case), too_low=False)
    ()
    """
    found = []
    if too_low:
        found.append(Message("test_voltage_low", "The test voltage is below the one required."))
    if case.duration_s < SETTLED_S:
        text = "Taken before a minute had passed: capacitance and absorption make it read low."
        found.append(Message("short_duration", text))
    if standard.high is None:
        text = "Over range is also what an open test lead shows: prove the leads before and after."
        found.append(Message("prove_leads", text))
    return tuple(found)


def suspicions_of_tester(case: TesterCase) -> tuple[Message, ...]:
    """Warn of figures that were probably entered in another unit.

    Parameters
    ----------
    case : TesterCase
        As entered, [V] and [ohm]

    Returns
    -------
    warnings : tuple[Message, ...]
        With the code ``unit_suspect``, [-]

    Notes
    -----
    Usual are test voltages of 10 V to 5 kV, readings from 1 kohm, ranges from 100 kohm, parts with
    up to 1500 V of their own. Source: voltage class B of ISO 6469-3; the rest shop defaults.

    Examples
    --------
    >>> case = TesterCase(
    ...     test_voltage_v=500.0,
    ...     pos_ohm=2.4,
    ...     neg_ohm=AboveOhm(above_ohm=5.5e8),
    ...     working_voltage_v=400.0,
    ... )
    >>> [warning.text for warning in suspicions_of_tester(case)]
    ['pos_ohm is 2.4, which is unusual: were megohms or kilohms meant?']
    """
    too_low = case.test_voltage_v < TEST_VOLTAGES_V[0]
    test_words = "were kilovolts meant?" if too_low else "was it in volts already?"
    shown = (
        suspect(
            f"{name}.above_ohm" if isinstance(reading, AboveOhm) else name,
            bound_of(reading),
            LEAST_RANGE_OHM if isinstance(reading, AboveOhm) else LEAST_READING_OHM,
            float("inf"),
            "were megohms or kilohms meant?",
        )
        for name in ("pos_ohm", "neg_ohm", "at_30s_ohm", "at_60s_ohm")
        if (reading := getattr(case, name)) is not None
    )
    return (
        *suspicions(
            suspect("test_voltage_v", case.test_voltage_v, *TEST_VOLTAGES_V, test_words), *shown
        ),
        *suspicious_limit(case.working_voltage_v, case.limit_ohm_per_v),
        *suspicions(
            suspect(
                "own_voltage_v",
                case.own_voltage_v,
                0.0,
                HIGHEST_CLASS_B_V,
                "were millivolts meant?",
            )
        ),
    )
