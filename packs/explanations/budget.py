"""The budget of an uncertainty: what each source of error is worth, and what they make together.

Here: the table and the two lines below it. Not here: which sources a calculation has.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from packs.explanation import Line, figure, table_text
from packs.physics.instrument import SQRT_3, half_width_95
from packs.words import told

HEADINGS = ("source", "half-width", "divisor", "standard u", "sensitivity", "contribution")
RULE = (
    "The widest box is kept as a box, all the rest is taken together as a bell (JCGM 100, annex G);"
    " the factor lies between 1.645 (one box alone) and 1.960 (a bell)."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """One source of error: a box, or a bell given by its standard deviation.

    Parameters
    ----------
    source : str
        What may be off.
    half_width : float
        By how much; for a bell its standard deviation.
    unit : str
        Of the half-width.
    sensitivity : float
        By how much the result moves for one unit of it.
    bell : bool
        Whether the half-width is a standard deviation.
    parts : tuple[float, ...]
        Where several errors of one kind are shown together: each, in the unit of the result.
    """

    source: str
    half_width: float
    unit: str
    sensitivity: float
    bell: bool = False
    parts: tuple[float, ...] = ()

    @property
    def shares(self) -> tuple[float, ...]:
        """Return each error in the unit of the result."""
        return self.parts or (self.half_width * self.sensitivity,)

    @property
    def divisor(self) -> float:
        """Return what makes a standard uncertainty of it."""
        return 1.0 if self.bell else SQRT_3

    @property
    def contribution(self) -> float:
        """Return its standard uncertainty in the unit of the result."""
        return math.hypot(*self.shares) / self.divisor


def grouped(
    source: str, half_width: float, unit: str, parts: Sequence[float], *, bell: bool = False
) -> Component:
    """Return errors of one kind as one row.

    Parameters
    ----------
    source : str
        What may be off.
    half_width : float
        Of one of them.
    unit : str
        Of the half-width.
    parts : Sequence[float]
        Each error in the unit of the result.
    bell : bool
        Whether the half-width is a standard deviation.

    Returns
    -------
    component : Component
        With the sensitivity that gives the same contribution.
    """
    sensitivity = math.hypot(*parts) / half_width if half_width else 0.0
    return Component(
        source=source,
        half_width=half_width,
        unit=unit,
        sensitivity=sensitivity,
        bell=bell,
        parts=tuple(parts),
    )


def expanded(components: Sequence[Component]) -> float:
    """Return the half-width that holds 95 %.

    Parameters
    ----------
    components : Sequence[Component]
        Every source of error.

    Returns
    -------
    half_width : float
        In the unit of the result.
    """
    boxes = [share for each in components if not each.bell for share in each.shares]
    bells = [share for each in components if each.bell for share in each.shares]
    return half_width_95(boxes, math.hypot(*bells))


def budget_lines(of: str, components: Sequence[Component], unit: str) -> tuple[Line, ...]:
    """Return the table, the combined and the expanded uncertainty.

    Parameters
    ----------
    of : str
        What the budget is for, in words.
    components : Sequence[Component]
        Every source of error.
    unit : str
        Of the result.

    Returns
    -------
    lines : tuple[Line, ...]
        Three steps; one where nothing can be off.
    """
    combined = math.hypot(*(each.contribution for each in components))
    whole = expanded(components)
    if not combined > 0.0:
        return (
            Line(
                what=told("Uncertainty of {of}: nothing was said to be off", of=of),
                value=f"0 {unit}",
            ),
        )
    return (
        Line(what=told("Uncertainty budget of {of}", of=of), numbers=_table(components, unit)),
        Line(
            what="Combined standard uncertainty: the contributions squared, added, and the root",
            formula=told("u = sqrt(sum of contribution^2)"),
            value=figure(combined, unit),
        ),
        Line(
            what=told("Half-width of the 95 % interval. {rule}", rule=RULE),
            formula="U = k u",
            numbers=f"{figure(whole / combined, '', 4)} x {figure(combined, unit)}",
            value=figure(whole, unit),
        ),
    )


def _table(components: Sequence[Component], unit: str) -> str:
    """Write a row for each source."""
    rows = [
        (
            told("{of}", of=each.source),
            figure(each.half_width, each.unit, 3),
            "1" if each.bell else "sqrt 3",
            figure(each.half_width / each.divisor, each.unit, 3),
            figure(abs(each.sensitivity), "", 3),
            figure(each.contribution, unit, 3),
        )
        for each in components
    ]
    return table_text(HEADINGS, rows)
