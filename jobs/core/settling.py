"""What a settling that is being recorded says so far: how many more readings, or the end value.

Here: `settling_so_far`, computed and stored nowhere. Not here: the fit (`packs.physics.decay`),
what a step makes of a series that was entered (`jobs.core.pack_side_check`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from jobs.core.insulation import meter_of
from jobs.core.item import EquipmentUsed, Item, equipment
from jobs.core.record import Record
from jobs.core.section import Said
from packs.physics.decay import FEWEST_SAMPLES, DecayResult, Sample, decay
from packs.physics.instrument import CalculationRefused, Meter

__all__ = ["Settling", "meter_used", "settling_so_far"]

_METER = equipment("any.meter", "Voltmeter", ("meter",))
"""Reads a voltmeter that was picked, whichever step asked for it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settling:
    """What the rows say: `enough` once the end value is decided."""

    said: Said
    more: Said | None = None
    enough: bool = False
    found: DecayResult | None = None


def meter_used(record: Record, item: Item[Any]) -> Meter | None:
    """Give the voltmeter picked in the item's own step, else the one picked last."""
    step, used = item.key.partition(".")[0] + ".", list[tuple[bool, int, EquipmentUsed]]()
    for key, entries in record.live.items():
        for entry in entries:
            if isinstance(entry.value, dict) and entry.value.get("kind") == "meter":
                used.append((key.startswith(step), entry.seq, _METER.read(entry.value)))
    return meter_of(max(used, key=lambda one: one[:2])[2]) if used else None


def _more(count: int) -> Said:
    text = "{count} more readings." if count > 1 else "One more reading."
    return Said(text, {"count": count})


def _of(found: DecayResult) -> Settling:
    """Put a fit into a line."""
    advice = Said(found.advice[0].text) if found.advice else None
    if found.kind == "undecided":
        return Settling(said=Said("Undecided yet."), more=advice, found=found)
    half_v = max(found.end_v_high - found.end_v, found.end_v - found.end_v_low)
    figures = {"end_v": f"{found.end_v:.3g}", "half_v": f"{half_v:.2g}", "kind": found.kind}
    said = Said("Enough: {end_v} V ± {half_v} V, {kind}.", figures)
    return Settling(said=said, enough=True, found=found)


def settling_so_far(record: Record, item: Item[Any], rows: Sequence[Sample]) -> Settling:
    """Say what a settling that is being recorded shows so far.

    Parameters
    ----------
    record : Record
        The job as it stands: meter and floor come from it.
    item : Item
        The series.
    rows : Sequence[Sample]
        What was recorded [s] and [V].

    Returns
    -------
    Settling
        How many more readings are needed, or the end value with its interval.
    """
    meter = meter_used(record, item)
    if meter is None:
        return Settling(said=Said("Pick the voltmeter first: its accuracy decides."))
    if len(rows) < FEWEST_SAMPLES:
        return Settling(said=_more(FEWEST_SAMPLES - len(rows)))
    floor_v = record.limits.floor_v.value
    threshold_v = 60.0 if record.pack is None else record.pack.dead_v.value
    try:
        found = decay(rows, meter, floor_v=floor_v, threshold_v=threshold_v)
    except CalculationRefused as refused:
        return Settling(said=Said("Not usable: {why}.", {"why": refused.message}))
    return _of(found)
