"""Everything the verdict on a log rests on, and what makes the log itself doubtful.

Here: the record, how far the charge went, how strong the load was, doubts. Not here: the verdict
(cycle_verdict.py) and the warnings (cycle_warnings.py).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from packs.physics.cycle_case import CycleCase, CycleCell, ReplacedModule
from packs.physics.cycle_flags import Figures
from packs.physics.cycle_phases import Phases
from packs.physics.instrument import Message
from packs.physics.ocv import Curve
from packs.words import told

FULL_PERCENT = 80.0
"""A charge that ends below does not show the spread at the top: shop default, no source."""
LEAST_RATE_PER_H = 0.2
"""A load of less than a fifth of the capacity an hour is none: shop default, no source."""
REST_TOLERANCE_V = 0.010
LOWEST_OF_ANY_V, HIGHEST_OF_ANY_V = 1.4, 4.6
"""Between these lies a rested cell of any kind: shop default, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """Everything the verdict rests on.

    Parameters
    ----------
    case : CycleCase
        What was asked.
    curve : Curve | None
        Of the cells.
    figures : Figures
        Of the cells and spreads.
    phases : Phases
        Of the current.
    cells : Sequence of CycleCell
        With their flags.
    replaced : Sequence of ReplacedModule
        With their verdicts.
    """

    case: CycleCase
    curve: Curve | None
    figures: Figures
    phases: Phases
    cells: Sequence[CycleCell]
    replaced: Sequence[ReplacedModule]


def top_percent(findings: Findings) -> float | None:
    """Return the median cell's state of charge at the end of the charge, where it is known.

    Parameters
    ----------
    findings : Findings
        With the capacity and the end of the charge.

    Returns
    -------
    soc_percent : float | None
        None without a capacity or a charge, [%]

    Notes
    -----
    ``s = s_0 + Q/C``, counted from the start of the window.
    """
    top, capacity = findings.figures.spreads.top, findings.figures.capacity
    if top is None or capacity is None:
        return None
    counted = findings.phases.between(capacity.first, top.row).charge_ah
    return capacity.from_percent + counted / capacity.ah * 100.0


def is_full(findings: Findings) -> bool:
    """Tell whether the charge went far enough to show the spread at the top.

    Parameters
    ----------
    findings : Findings
        With the capacity and the end of the charge.

    Returns
    -------
    full : bool
        Without a state of charge it counts as it ended.

    Notes
    -----
    80 %, a shop default without a source.
    """
    percent = top_percent(findings)
    return percent is None or percent >= FULL_PERCENT


def is_strong(findings: Findings) -> bool:
    """Tell whether the strongest load shows the spread under load.

    Parameters
    ----------
    findings : Findings
        With the load and the capacity, or the rated one.

    Returns
    -------
    strong : bool
        True where no capacity is known.

    Notes
    -----
    A fifth of the capacity an hour, a shop default without a source.
    """
    capacity = findings.figures.capacity
    capacity_ah = capacity.ah if capacity is not None else findings.case.rated_ah
    rate = LEAST_RATE_PER_H * capacity_ah if capacity_ah is not None else 0.0
    return findings.figures.spreads.load_a >= rate


def doubts_of(findings: Findings) -> tuple[Message, ...]:
    """Return what makes the log as a whole doubtful.

    Parameters
    ----------
    findings : Findings
        With the log's own doubts, the rests and the resistances.

    Returns
    -------
    doubts : tuple of Message
        Any of them makes the verdict undecided.

    Notes
    -----
    Rests outside the curve by more than its trust and 10 mV belong to another cell; most cells with
    a resistance below zero belong to a current of the other sign.
    """
    found = list(findings.case.log.doubts)
    low_v, high_v = _range_v(findings)
    rests_v = [rest.median_v for rest in findings.phases.rests]
    median_v = findings.figures.channels.median_v
    read_v = rests_v or [float(median_v.min()), float(median_v.max())]
    if min(read_v) < low_v or max(read_v) > high_v:
        whose = (
            told("of the curve {curve}", curve=findings.curve.name)
            if findings.curve
            else "of any cell"
        )
        text = told(
            "The cells read {low_v:.3f} to {high_v:.3f} V, outside the range {whose}: "
            "check the log, the car it is from, and the curve.",
            low_v=min(read_v),
            high_v=max(read_v),
            whose=whose,
        )
        found.append(Message("outside_curve", text))
    resistances = findings.figures.resistances
    known = {message.code for message in found}
    if resistances is not None and "current_sign_suspect" not in known:
        trusted = findings.figures.channels.trusted
        against = (resistances.ohm + resistances.half_ohm)[trusted] < 0.0
        if against.mean() > 0.5:  # noqa: PLR2004  (most cells)
            text = "The cells rise while the string is discharged: current_sign is the other one."
            found.append(Message("current_sign_suspect", text))
    return tuple(found)


def _range_v(findings: Findings) -> tuple[float, float]:
    """Return between what rested cells of this kind can be."""
    curve = findings.curve
    if curve is None:
        return LOWEST_OF_ANY_V, HIGHEST_OF_ANY_V
    beyond_v = curve.trust_v + REST_TOLERANCE_V
    return curve.lowest_v - beyond_v, curve.highest_v + beyond_v
