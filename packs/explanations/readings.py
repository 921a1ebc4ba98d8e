"""Steps that several calculations share: a meter's allowance, and a comparison with a limit.

Here: those steps. Not here: any one calculation.
"""

from packs.explanation import Line, figure
from packs.explanations.budget import Component
from packs.physics.instrument import Accuracy, Meter
from packs.words import joined, told

HALF_A_STEP = 0.5


def allowance_v(instrument: Accuracy | Meter, reading_v: float) -> float:
    """Return how far a reading may be off, from the plain formula.

    Parameters
    ----------
    instrument : Accuracy | Meter
        With its data sheet's figures.
    reading_v : float
        What it showed, [V]

    Returns
    -------
    half_width_v : float
        Largest error in either direction, [V]
    """
    share_v = instrument.accuracy_percent / 100.0 * abs(reading_v)
    return share_v + (instrument.accuracy_counts + HALF_A_STEP) * instrument.resolution_v


def reading_components(
    source: str,
    instrument: Accuracy | Meter,
    reading_v: float,
    sensitivity: float,
    *,
    gain_shared: bool = False,
) -> tuple[Component, Component]:
    """Return the two errors of a reading: that of the meter, and that of its last digit.

    Parameters
    ----------
    source : str
        Which reading.
    instrument : Accuracy | Meter
        With its data sheet's figures.
    reading_v : float
        What it showed, [V]
    sensitivity : float
        By how much the result moves for one volt.
    gain_shared : bool
        Whether the share of the reading is one error for all and counted elsewhere.

    Returns
    -------
    components : tuple[Component, Component]
        Two rows of a budget.
    """
    share_v = 0.0 if gain_shared else instrument.accuracy_percent / 100.0 * abs(reading_v)
    own_v = share_v + instrument.accuracy_counts * instrument.resolution_v
    rounding_v = HALF_A_STEP * instrument.resolution_v
    return (
        Component(
            source=told("{reading}, meter", reading=source),
            half_width=own_v,
            unit="V",
            sensitivity=sensitivity,
        ),
        Component(
            source=told("{reading}, last digit", reading=source),
            half_width=rounding_v,
            unit="V",
            sensitivity=sensitivity,
        ),
    )


def allowance_line(what: str, instrument: Accuracy | Meter, reading_v: float) -> Line:
    """Return the step that works out an allowance.

    Parameters
    ----------
    what : str
        Which reading.
    instrument : Accuracy | Meter
        With its data sheet's figures.
    reading_v : float
        What it showed, [V]

    Returns
    -------
    line : Line
        Formula, numbers, result.
    """
    step = figure(instrument.resolution_v, "V")
    return Line(
        what=told(
            "Allowance of {what}: share of the reading, counts, and half a step for rounding",
            what=what,
        ),
        formula=told("a = accuracy/100 |v| + (counts + 0.5) x resolution"),
        numbers=(
            f"{instrument.accuracy_percent:g}/100 x {figure(abs(reading_v), 'V', 6)}"
            f" + ({instrument.accuracy_counts:g} + 0.5) x {step}"
        ),
        value=figure(allowance_v(instrument, reading_v), "V"),
    )


def interval_text(low: float | None, high: float | None, unit: str) -> str:
    """Return an interval in words.

    Parameters
    ----------
    low : float | None
        Lower end.
    high : float | None
        Upper end, None when there is none.
    unit : str
        Of both.

    Returns
    -------
    text : str
        Both ends, or the bound.
    """
    if high is None:
        return told("at least {low} (a lower bound)", low=figure(low, unit))
    return told("{low} to {high}", low=figure(low, unit), high=figure(high, unit))


def against(found: str, limit: str) -> str:
    """Return a comparison in words.

    Parameters
    ----------
    found : str
        What was found.
    limit : str
        What it is held against.

    Returns
    -------
    text : str
        Both, for the ``numbers`` of a step.
    """
    return told("{value} against {limit}", value=found, limit=limit)


def below(*parts: str) -> str:
    """Return words or tables that stand one below the other.

    Parameters
    ----------
    *parts : str
        At least one; an empty one is left out.

    Returns
    -------
    text : str
        For the ``numbers`` of a step.
    """
    return joined([part for part in parts if part], "{first}\n{second}")


def and_more(left: int) -> str:
    """Return how many rows a table leaves out.

    Parameters
    ----------
    left : int
        So many; none where it is not above zero.

    Returns
    -------
    text : str
        Words below the table, empty where nothing is left out.
    """
    return told("(and {left} more)", left=left) if left > 0 else ""
