"""One side's insulation as a step states it: figures, instruments, lines of proof.

Here: what both sides share. Not here: how the figures come about
(`jobs.core.pack_side_check`, `jobs.core.vehicle_side_check`).
"""

from dataclasses import dataclass
from typing import Any

from jobs.core.item import EquipmentUsed, Item
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.section import Fact, Quantity, VerdictWord
from packs.definition import Figure
from packs.physics.circuit import Insulation
from packs.physics.instrument import Message, Meter
from packs.physics.isolation import IsolationResult

__all__ = [
    "LOW",
    "REASONS",
    "Side",
    "figures_of",
    "late_blockers",
    "meter_of",
    "rated_blockers",
    "side_facts",
]

LABELS = {
    "pack": ("Isolation, pack", "Resistance to the enclosure, pack"),
    "pack, before the lid": (
        "Isolation, pack, before the lid",
        "Resistance to the enclosure, pack, before the lid",
    ),
    "pack, lid on": ("Isolation, pack, lid on", "Resistance to the enclosure, pack, lid on"),
    "vehicle": ("Isolation, vehicle", "Resistance to the enclosure, vehicle"),
    "vehicle, repaired": (
        "Isolation, vehicle, repaired",
        "Resistance to the enclosure, vehicle, repaired",
    ),
}
"""What the two lines of proof of a side are called, whole, so that they can be translated."""
LOW = Message("low_total", "Low for dry insulation, even where the limit is kept.")
"""Said of a side that passes below the shop's warning."""

DATE = Reason(
    "isolation_instrument_date",
    "{label} may not be used: withdrawn, past its date or without one.",
)
RATING = Reason(
    "isolation_instrument_rating",
    "{label} is rated {rated_v:.0f} V; this pack reaches {highest_v:.0f} V. Take another one.",
)
PICKED_LATE = Reason(
    "instrument_picked_late",
    "{label} was picked after it was read with. Strike what was read with another one, read again.",
)
REASONS = (DATE, RATING, PICKED_LATE)

_WORDS: dict[str, VerdictWord] = {"pass": "pass", "fail": "fail", "undecided": "undecided"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One side's isolation; `verdict` is "none" while nothing can be said."""

    verdict: str = "none"
    limit_ohm_per_v: float = 0.0
    total_ohm: float | None = None
    total_ohm_low: float | None = None
    total_ohm_high: float | None = None
    ohm_per_v: float | None = None
    ohm_per_v_low: float | None = None
    ohm_per_v_high: float | None = None
    is_lower_bound: bool = False
    warnings: tuple[Message, ...] = ()
    advice: tuple[Message, ...] = ()


def meter_of(used: EquipmentUsed) -> Meter:
    """Give the voltmeter as the calculations take it; what is not known has the usual figure."""
    return Meter(
        input_ohm=used.number("input_ohm"),
        input_tolerance_percent=used.number("input_tolerance_percent", 1.0),
        accuracy_percent=used.number("accuracy_percent", 0.5),
        accuracy_counts=used.number("accuracy_counts", 2.0),
        resolution_v=used.number("resolution_v", 0.01),
    )


def figures_of(whole: Insulation | IsolationResult, working_v: float) -> dict[str, Any]:
    """Give the total and the total per volt, each with its interval."""
    high = whole.total_ohm_high
    return {
        "total_ohm": whole.total_ohm,
        "total_ohm_low": whole.total_ohm_low,
        "total_ohm_high": high,
        "ohm_per_v": whole.total_ohm / working_v,
        "ohm_per_v_low": whole.total_ohm_low / working_v,
        "ohm_per_v_high": None if high is None else high / working_v,
    }


def rated_blockers(record: Record, item: Item[EquipmentUsed]) -> list[Blocker]:
    """Say whether an instrument's date has passed or its rating is below this pack's voltage."""
    used = record.get(item)
    if used is None:
        return []
    found = [] if used.in_date(record.now.date()) else [DATE(item.key, label=used.label)]
    rated_v = used.number("rated_v")
    if record.pack is not None and rated_v < record.pack.working_v:
        highest_v = record.pack.working_v
        found.append(RATING(item.key, label=used.label, rated_v=rated_v, highest_v=highest_v))
    return found


def late_blockers(
    record: Record, tool: Item[EquipmentUsed], *taken: Item[Any], qualifier: str = ""
) -> list[Blocker]:
    """Say that an instrument was changed after a value was read, so that it did not read it.

    Parameters
    ----------
    record : Record
        The job as it stands.
    tool : Item[EquipmentUsed]
        The item that picks the instrument.
    *taken : Item[Any]
        What is read with it.
    qualifier : str
        Part of a qualifier ("shunt=fitted") that a value has to carry; empty for any.

    Returns
    -------
    list[Blocker]
        At most one, at the first such value.
    """
    used, values = record.given(tool), (given for item in taken for given in record.all(item))
    early = [
        given.entry
        for given in values
        if used is not None and given.seq < used.seq and qualifier in given.entry.qualifier
    ]
    if used is None or not early:
        return []
    return [PICKED_LATE(early[0].item, early[0].qualifier, label=used.value.label)]


def _quantity(side: Side) -> Quantity | None:
    if side.ohm_per_v is None:
        return None
    return Quantity(
        side.ohm_per_v,
        "ohm/V",
        side.ohm_per_v_low,
        side.ohm_per_v_high,
        ">" if side.is_lower_bound else "=",
    )


def side_facts(side_of: str, side: Side, limit: Figure, instrument: str) -> tuple[Fact, ...]:
    """Give the lines of proof of one side: per volt against its limit, and in ohm.

    Parameters
    ----------
    side_of : str
        Which side, a key of `LABELS`.
    side : Side
        Its figures.
    limit : Figure
        The limit in force, with kind and source [ohm/V].
    instrument : str
        Label of what it was read with.

    Returns
    -------
    tuple[Fact, ...]
        Empty while nothing was read.
    """
    per_v = _quantity(side)
    if per_v is None or side.total_ohm is None:
        return ()
    total = Quantity(
        side.total_ohm, "ohm", side.total_ohm_low, side.total_ohm_high, per_v.comparator
    )
    return (
        Fact(
            label=LABELS[side_of][0],
            value=per_v,
            verdict=_WORDS.get(side.verdict, "none"),
            limit=Quantity(limit.value, "ohm/V"),
            limit_kind=limit.kind,
            limit_source=limit.source,
            instrument=instrument,
        ),
        Fact(label=LABELS[side_of][1], value=total, instrument=instrument),
    )
