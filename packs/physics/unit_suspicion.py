"""Figures that are likely a thousand times off: milli for whole, kilo or mega forgotten.

Here: the one warning for such a slip. Not here: what is usual (each calculation gives its own range
with its reasons), and what is impossible (the calculation refuses that).
"""

from packs.physics.instrument import Accuracy, Message, Meter
from packs.words import told

LEAST_INPUT_OHM = 1e3
"""No voltmeter, not even one with a low-impedance range, has less: shop default, no source."""
LARGEST_STEP_V = 1.0
"""An instrument with digits shows finer steps than this: shop default, no source."""
HIGHEST_CLASS_B_V = 1500.0
"""Vehicles have no direct voltage above this (ISO 6469-3, voltage class B)."""


def suspect(
    path: str, value: float | None, usual_low: float, usual_high: float, words: str
) -> Message | None:
    """Warn of a figure so far from what is usual that its unit was probably mistaken.

    Parameters
    ----------
    path : str
        The field as the caller knows it, such as ``meter.input_ohm``.
    value : float or None
        What was entered; its sign does not matter, [any unit]
    usual_low : float
        Nothing below this is met in practice, [same unit]
    usual_high : float
        Nor above this; infinite where only small figures are odd, [same unit]
    words : str
        What was probably meant, such as "were megohms meant?"

    Returns
    -------
    warning : Message or None
        With the code ``unit_suspect``, [-]

    Notes
    -----
    ``|value| < low`` or ``|value| > high``; a figure of exactly nothing has no unit to mistake and
    a missing one none at all. The range must leave room for rare but honest figures: it is worth
    little to be warned often. Source: our own; no standard.

    Examples
    --------
    >>> suspect("meter.input_ohm", 10.0, 1e5, float("inf"), "were megohms meant?").text
    'meter.input_ohm is 10, which is unusual: were megohms meant?'
    >>> suspect("meter.input_ohm", 1.0e7, 1e5, float("inf"), "were megohms meant?") is None
    True
    """
    if value is None or value == 0.0 or usual_low <= abs(value) <= usual_high:
        return None
    return Message(
        "unit_suspect",
        told(
            "{path} is {value:.6g}, which is unusual: {words}", path=path, value=value, words=words
        ),
    )


def suspicions(*found: Message | None) -> tuple[Message, ...]:
    """Keep the warnings there are.

    Parameters
    ----------
    *found : Message or None
        What `suspect` said of each field.

    Returns
    -------
    warnings : tuple of Message
        In the same order, [-]

    Notes
    -----
    Source: our own; no standard.

    Examples
    --------
    >>> suspicions(None, suspect("volume_l", 0.06, 1.0, 1e4, "were cubic metres meant?"))[0].code
    'unit_suspect'
    """
    return tuple(message for message in found if message is not None)


def suspicious_instrument(
    path: str, instrument: Meter | Accuracy, least_input_ohm: float = LEAST_INPUT_OHM
) -> tuple[Message, ...]:
    """Warn of an instrument whose data were probably entered in another unit.

    Parameters
    ----------
    path : str
        The field the instrument stands in, such as ``meter``.
    instrument : Meter or Accuracy
        Its data sheet.
    least_input_ohm : float
        The least input resistance that is usual for the purpose, [ohm]

    Returns
    -------
    warnings : tuple of Message
        With the code ``unit_suspect``, [-]

    Notes
    -----
    A step of more than 1 V was probably given in millivolts; an input resistance below 1 kilohm
    (100 kilohm where insulation is measured) in megohms or kilohms. Source: shop defaults.

    Examples
    --------
    >>> [warning.text[:17] for warning in suspicious_instrument("meter", Meter(input_ohm=10.0))]
    ['meter.input_ohm i']
    >>> suspicious_instrument("meter", Meter(input_ohm=1.0e7))
    ()
    """
    step = suspect(
        f"{path}.resolution_v",
        instrument.resolution_v,
        0.0,
        LARGEST_STEP_V,
        "were millivolts meant?",
    )
    if not isinstance(instrument, Meter):
        return suspicions(step)
    words = "were megohms or kilohms meant?"
    ohm = suspect(f"{path}.input_ohm", instrument.input_ohm, least_input_ohm, float("inf"), words)
    return suspicions(ohm, step)
