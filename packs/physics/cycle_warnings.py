"""What a reader of the result must know.

Here: limits passed over, how charge was counted, which cells stand out, which moments are missing.
Not here: the verdict and what to record next (cycle_verdict.py).
"""

from packs.physics.cycle_findings import FULL_PERCENT, Findings, is_strong, top_percent
from packs.physics.instrument import Message
from packs.words import joined, told

OFFSET_SHARE = 0.002
"""An offset of the current above this share of the largest is said: shop default, no source."""


def warnings_of(findings: Findings) -> list[Message]:
    """Say what a reader of the result must know.

    Parameters
    ----------
    findings : Findings
        What was found.

    Returns
    -------
    warnings : list of Message
        Limits passed over first, then the charge, the cells and the moments.

    Notes
    -----
    The repairs and doubts of the log itself come before them.
    """
    return [
        *_warnings_on_limits(findings),
        *_warnings_on_charge(findings),
        *_warnings_on_capacity(findings),
        *_warnings_on_cells(findings),
        *_warnings_on_moments(findings),
    ]


def _warnings_on_limits(findings: Findings) -> list[Message]:
    """Say which limits were passed over, and by which cell."""
    spreads, limits = findings.figures.spreads, findings.case.limits
    judged = (
        ("spread_rest", "at rest", spreads.rest, limits.spread_rest_mv),
        ("spread_top", "at the end of the charge", spreads.top, limits.spread_top_mv),
        ("spread_load", "under the strongest load", spreads.load, limits.spread_load_mv),
    )
    found = []
    for code, where, spread, limit_mv in judged:
        steep = spread is spreads.rest and spreads.rest_in_knee
        if spread is not None and spread.low_mv > limit_mv and not steep:
            cell = findings.cells[spread.cell]
            text = told(
                "The cells are {apart_mv:.1f} mV apart {where}; {limit_mv:g} mV are "
                "allowed. Cell {cell} in {module} is the furthest out.",
                apart_mv=spread.mv,
                where=where,
                limit_mv=limit_mv,
                cell=cell.index,
                module=cell.module,
            )
            found.append(Message(f"{code}_over", text))
    low_c = spreads.temperature_low_c
    if low_c is not None and low_c > limits.temperature_spread_c:
        text = told(
            "The temperatures are {apart_k:.1f} K apart; {allowed_k:g} K are allowed.",
            apart_k=spreads.temperature_c,
            allowed_k=limits.temperature_spread_c,
        )
        found.append(Message("temperature_spread_over", text))
    return found


def _warnings_on_charge(findings: Findings) -> list[Message]:
    """Say how the charge was counted."""
    phases, capacity = findings.phases, findings.figures.capacity
    found = []
    gap_ah, lost = float(phases.gap_ah[-1]), float(phases.lost[-1]) > 0.0
    if lost:
        text = "A gap lost a charge that cannot be bounded; no window across it is used."
        found.append(Message("gap_in_charge", text))
    elif gap_ah > 0.0:
        inside = capacity.counted.gap_ah if capacity is not None else 0.0
        text = told(
            "Gaps lost charge; from the current beside them it is known within "
            "{gap_ah:.3f} Ah. The window used has {inside:.3f} Ah of it, which its "
            "interval holds.",
            gap_ah=gap_ah,
            inside=inside,
        )
        found.append(Message("gap_in_charge", text))
    if abs(phases.offset_a) > OFFSET_SHARE * phases.largest_a > 0.0:
        text = told(
            "The current reads {offset_a:+.3f} A at rest; that was taken out.",
            offset_a=phases.offset_a,
        )
        found.append(Message("current_offset", text))
    return found


def _warnings_on_capacity(findings: Findings) -> list[Message]:
    """Say what the capacity rests on."""
    capacity = findings.figures.capacity
    found = []
    if capacity is None:
        text = "No two known states of charge far enough apart: the capacity is not determined."
        if findings.curve is None:
            text = "Without a curve, and without a window from end to end, there is no capacity."
        found.append(Message("no_window", text))
    elif capacity.by_curve and abs(capacity.to_percent - capacity.from_percent) < 99.0:  # noqa: PLR2004
        where = "between two rests" if capacity.rested else "with an end that was not at rest"
        text = told(
            "The capacity was scaled from the part between {from_percent:.1f} and "
            "{to_percent:.1f} %, {where}, through the curve.",
            from_percent=capacity.from_percent,
            to_percent=capacity.to_percent,
            where=where,
        )
        found.append(Message("partial_window", text))
    if capacity is not None and capacity.contradicted:
        text = (
            "Parts of the log give capacities that contradict each other; the interval holds both."
        )
        found.append(Message("windows_disagree", text))
    if capacity is not None and not capacity.by_curve:
        text = "The window looks full; up to 8 % may lie beyond what the log shows."
        found.append(Message("full_window", text))
    return found


def _warnings_on_cells(findings: Findings) -> list[Message]:
    """Name the cells that stand out."""
    found = []
    for place, why in findings.figures.channels.sensor.items():
        text = told(
            "Cell {cell} {why}: its readings are left out of all spreads.", cell=place + 1, why=why
        )
        found.append(Message("sensor", text))
    words = {
        "high_resistance": "has a high resistance",
        "low_capacity": "has a low capacity",
        "offset": "stands apart at rest",
    }
    for cell in findings.cells:
        seen = [words[flag] for flag in cell.flags if flag in words]
        if seen:
            text = told(
                "Cell {cell} in {module} {what}.",
                cell=cell.index,
                module=cell.module,
                what=joined(seen),
            )
            found.append(Message(cell.flags[0], text))
    return found


def _warnings_on_moments(findings: Findings) -> list[Message]:
    """Say which moments the log does not show in full."""
    found = []
    percent = top_percent(findings)
    if percent is not None and percent < FULL_PERCENT:
        text = told(
            "The charge ended at {percent:.0f} %: the spread at the top is not shown in full.",
            percent=percent,
        )
        found.append(Message("charge_not_full", text))
    if findings.figures.spreads.load is not None and not is_strong(findings):
        load_a = findings.figures.spreads.load_a
        text = told(
            "The strongest load of {load_a:.1f} A is too weak to show the spread under load.",
            load_a=load_a,
        )
        found.append(Message("weak_load", text))
    if findings.figures.spreads.rest_in_knee:
        text = "The only rest lies in a steep end of the curve; its spread says little."
        found.append(Message("rest_in_knee", text))
    if findings.figures.resistances is None:
        text = "The current never steps: the cells' resistances are not shown."
        found.append(Message("no_steps", text))
    return found
